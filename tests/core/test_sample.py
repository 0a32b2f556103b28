"""What is said of some numbers, against NIST's certified values, NumPy, and what holds of any sample."""

import json
import math
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.sample import Sample, sample

UNIVARIATE: dict[str, Any] = json.loads(
    (Path(__file__).parent.parent / "data" / "nist_univariate.json").read_text(encoding="utf-8")
)
NAMES = ("Lew", "Lottery", "Mavro", "Michelso")
NUMBERS = st.floats(-1e6, 1e6, allow_nan=False)


def _of(values: list[float]) -> Sample:
    found = sample(values)
    assert found is not None
    return found


def _alternating(first: float, low: float, high: float) -> list[float]:
    """NIST's NumAcc2, 3 and 4: 1001 numbers, the first once, then the other two 500 times each."""
    return [first, *([low, high] * 500)]


# NIST StRD, Univariate Summary Statistics. The certified values and the recipes of NumAcc1 to 4 are from memory. Its
# PiDigits are left out: worked out in two ways, the first 5,000 digits of pi sum to 22,679, and not to 5,000 * 4.5348.
@pytest.mark.parametrize(
    ("values", "mean", "deviation"),
    [
        ([10_000_001.0, 10_000_003.0, 10_000_002.0], 10_000_002.0, 1.0),
        (_alternating(1.2, 1.1, 1.3), 1.2, 0.1),
        (_alternating(1_000_000.2, 1_000_000.1, 1_000_000.3), 1_000_000.2, 0.1),
        (_alternating(10_000_000.2, 10_000_000.1, 10_000_000.3), 10_000_000.2, 0.1),
    ],
    ids=["NumAcc1", "NumAcc2", "NumAcc3", "NumAcc4"],
)
def test_nists_accuracy_sets_are_met_as_closely_as_their_numbers_can_be_written(
    values: list[float], mean: float, deviation: float
) -> None:
    """A number such as 10000000.1 has no binary form: it is off by up to half a unit of its last place."""
    found = _of(values)
    rounding = math.ulp(max(values)) / 2
    assert abs(found.mean - mean) <= 2 * rounding
    assert found.deviation is not None
    assert abs(found.deviation - deviation) <= 2 * rounding


@pytest.mark.parametrize("name", NAMES)
def test_nists_measured_sets_have_their_certified_mean_and_deviation(name: str) -> None:
    """The certified values have fifteen digits."""
    case = UNIVARIATE[name]
    found = _of(case["values"])
    assert found.mean == pytest.approx(case["mean"], rel=1e-14)
    spread = max(1e-14, math.ulp(found.values[-1]) / case["s"])
    assert found.deviation == pytest.approx(case["s"], rel=spread)


def test_the_textbook_sum_of_squares_would_fail_where_this_one_holds() -> None:
    """Of NumAcc4 the difference of two sums of squares has lost nearly all of its digits."""
    values = _alternating(10_000_000.2, 10_000_000.1, 10_000_000.3)
    naive = (sum(each * each for each in values) - sum(values) ** 2 / len(values)) / (len(values) - 1)
    assert abs(naive - 0.01) > 1e-4
    assert _of(values).variance == pytest.approx(0.01, rel=1e-7)


@given(st.lists(NUMBERS, min_size=1, max_size=60), st.floats(0, 1))
def test_mean_median_and_any_quantile_are_numpys(values: list[float], share: float) -> None:
    found, size = _of(values), max(1.0, *(abs(each) for each in values))
    assert found.mean == pytest.approx(float(np.mean(values)), abs=1e-12 * size)
    assert found.median == pytest.approx(float(np.median(values)), abs=1e-12 * size)
    assert found.quantile(share) == pytest.approx(float(np.quantile(values, share)), abs=1e-9 * size)


@given(st.lists(NUMBERS.filter(lambda each: not 0 < abs(each) < 1e-9), min_size=2, max_size=60))
def test_the_variance_is_that_of_exact_fractions(values: list[float]) -> None:
    """Whatever is squared has its own rounding, so of numbers far apart the last digits may differ."""
    exact = [Fraction(value) for value in values]
    middle = sum(exact) / len(exact)
    variance = sum((each - middle) ** 2 for each in exact) / (len(exact) - 1)
    # A distance from the mean is off by the rounding of the mean, which the correction takes out but for its square.
    rounding = math.ulp(max(abs(each) for each in values)) ** 2
    assert _of(values).variance == pytest.approx(float(variance), rel=1e-12, abs=4 * rounding)


@given(st.lists(NUMBERS, min_size=1, max_size=40), st.floats(0, 1), st.floats(0, 1))
def test_quantiles_rise_and_stay_among_the_numbers(values: list[float], one: float, other: float) -> None:
    found = _of(values)
    low, high = sorted((one, other))
    assert min(values) <= found.quantile(low) <= found.quantile(high) <= max(values)
    assert found.quantile(0) == min(values)
    assert found.quantile(1) == max(values)


def test_a_single_number_has_no_spread_and_nothing_has_no_sample() -> None:
    found = _of([7])
    assert (found.n, found.mean, found.median, found.deviation, found.variance) == (1, 7, 7, None, None)
    assert found.quantile(0.9) == 7
    assert sample([]) is None


def test_equal_numbers_have_no_spread_at_all() -> None:
    assert _of([0.1] * 10).deviation == 0


@pytest.mark.parametrize("share", [-0.01, 1.01, math.nan])
def test_a_share_outside_nought_to_one_is_refused(share: float) -> None:
    with pytest.raises(ValueError, match="0 to 1"):
        _of([1, 2]).quantile(share)


@pytest.mark.parametrize("value", [math.inf, math.nan])
def test_what_is_no_finite_number_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        sample([1, value])
