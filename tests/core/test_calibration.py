"""The forecast holds what it promises on runs that go as its own model says: eight in ten end from ten to ninety."""

import math

import numpy as np
import pytest

from tests.bench.calibration import RUNS, places, random_procedure, sample, shares


def within(share: float, runs: int = RUNS) -> float:
    """Three binomial standard errors."""
    return 3 * math.sqrt(share * (1 - share) / runs)


def test_eight_runs_in_ten_of_the_sample_end_within_the_band_and_one_in_ten_on_either_side() -> None:
    found = shares(places(sample(), seed=7))
    assert found.inside == pytest.approx(0.8, abs=within(0.8))
    assert found.below == pytest.approx(0.1, abs=within(0.1))
    assert found.above == pytest.approx(0.1, abs=within(0.1))


@pytest.mark.parametrize("seed", range(1, 5))
def test_eight_runs_in_ten_of_a_random_procedure_end_within_the_band(seed: int) -> None:
    found = shares(places(random_procedure(np.random.default_rng(seed)), seed, runs=400, draws=400))
    assert found.inside == pytest.approx(0.8, abs=within(0.8, 400))
