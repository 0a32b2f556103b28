"""What work tells of paces: by hand for one person, and against another form of Gaussian conditioning for several."""

import math

import numpy as np
import pytest
from scipy import stats

from app.core.paces import LEAST_NOISE, SIGMA, Work, known, paces

SEED, DRAWS, SAME = 20_261_125, 10_000, 0.01


def test_before_any_work_a_pace_is_lognormal_about_one() -> None:
    (found,) = paces(np.random.default_rng(SEED), DRAWS, 1, [])
    assert stats.kstest(found, stats.lognorm(SIGMA).cdf).pvalue > SAME
    assert stats.kstest(found, stats.lognorm(1.1 * SIGMA).cdf).pvalue < SAME
    assert stats.kstest(found, stats.norm(1, SIGMA).cdf).pvalue < SAME


def test_one_persons_pace_after_work_is_the_lognormal_worked_out_by_hand() -> None:
    """Expected 3600 s of variance 324,000 s2: noise 0.025, so that what was seen weighs 0.0225 / 0.0475."""
    weight, noise = 0.0225 / 0.0475, 0.025
    median = math.exp(weight * (math.log(5400 / 3600) + noise / 2))
    sigma = math.sqrt(0.0225 * (1 - weight))
    (found,) = paces(np.random.default_rng(SEED), DRAWS, 1, [Work((0,), 3600, 5400, 324_000)])
    assert stats.kstest(found, stats.lognorm(sigma, scale=median).cdf).pvalue > SAME
    assert stats.kstest(found, stats.lognorm(sigma, scale=1.02 * median).cdf).pvalue < SAME


@pytest.mark.parametrize("seed", range(20))
def test_several_peoples_paces_are_those_of_the_other_form_of_conditioning(seed: int) -> None:
    """Gain form, mean = P H' (H P H' + R)^-1 y: algebraically the same, computed another way."""
    generator = np.random.default_rng(seed)
    crew = int(generator.integers(1, 7))
    works = [
        Work(
            tuple(sorted(generator.choice(crew, size=generator.integers(1, crew + 1), replace=False).tolist())),
            expected := float(generator.uniform(60, 20_000)),
            expected * float(generator.uniform(0.4, 2.5)),
            (expected * float(generator.uniform(0.03, 0.3))) ** 2,
        )
        for _ in range(generator.integers(0, 6))
    ]
    told = np.array([[(seat in work.people) / len(work.people) for seat in range(crew)] for work in works])
    told = told.reshape(len(works), crew)
    noise = np.array([work.variance / work.expected_s**2 for work in works])
    seen = np.array([math.log(work.actual_s / work.expected_s) for work in works]) + noise / 2
    before = np.eye(crew) * SIGMA**2
    gain = before @ told.T @ np.linalg.inv(told @ before @ told.T + np.diag(noise))
    mean, covariance = known(crew, works)
    assert np.allclose(mean, gain @ seen)
    assert np.allclose(covariance, before - gain @ told @ before)


def test_the_draws_have_the_mean_and_covariance_that_are_known() -> None:
    works = [Work((0, 1), 3600, 5000, 200_000), Work((1,), 1800, 1500, 90_000)]
    mean, covariance = known(3, works)
    logs = np.log(paces(np.random.default_rng(SEED), 100_000, 3, works))
    assert np.allclose(logs.mean(axis=1), mean, atol=4 * SIGMA / math.sqrt(100_000))
    assert np.allclose(np.cov(logs), covariance, atol=0.0005)


def test_work_of_two_ties_their_paces_and_a_third_stays_as_before() -> None:
    _, covariance = known(3, [Work((0, 1), 3600, 3600, 100_000)])
    assert covariance[0, 1] < 0
    assert covariance[0, 0] == covariance[1, 1] < SIGMA**2
    assert covariance[2, 2] == pytest.approx(SIGMA**2)


@pytest.mark.parametrize("actual_s", [0, 1, 500_000])
def test_what_is_sure_or_wildly_off_still_gives_finite_paces(actual_s: float) -> None:
    found = paces(np.random.default_rng(SEED), 100, 2, [Work((0,), 600, actual_s, 0), Work((1,), 0, actual_s, 0)])
    assert np.isfinite(found).all()
    assert (np.array(found) > 0).all()


def test_a_sure_duration_tells_a_pace_no_closer_than_the_least_noise() -> None:
    _, covariance = known(1, [Work((0,), 600, 700, 0)])
    assert covariance[0, 0] == pytest.approx(1 / (SIGMA**-2 + LEAST_NOISE**-2))
