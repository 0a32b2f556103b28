"""The distributions of the forecast, and the network's maxima and sums, against scipy and known identities."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats

from app.core.draws import LEVELS, Points, drawn, levels, points, quantiles, remainder
from app.core.kernel import Kernel
from app.core.network import build
from app.core.passes import NOTHING_YET
from app.core.procedure import Procedure, Takes
from tests.core.building import procedure, task

if TYPE_CHECKING:  # The name is one of scipy's stubs only.
    from scipy.stats._distn_infrastructure import rv_continuous_frozen

# Textbook identities, recomputed with scipy 1.17; the file says so of itself.
KNOWN = json.loads((Path(__file__).parent.parent / "data" / "mc_analytic.json").read_text(encoding="utf-8"))

SEED = 5
DRAWS = 10_000
MANY = 200_000
STANDARD_ERRORS = 4
"""A mean or variance of draws may be off by so many of its standard errors; chance alone does that once in 16,000."""
MODES = (0.0, 0.1, 0.25, 0.5, 0.9, 1.0)
SAME = 0.01
"""Least p-value of a Kolmogorov-Smirnov test to pass at the fixed seed."""

Floats = NDArray[np.float64]


def beta(mode: float) -> "rv_continuous_frozen[Any, float | np.float64]":
    return stats.beta(1 + 4 * mode, 5 - 4 * mode)


def which(draws: int = DRAWS, seed: int = SEED) -> NDArray[np.uint16]:
    (row,) = levels(np.random.default_rng(seed), 1, draws)
    return np.asarray(row, dtype=np.uint16)


def agrees(sample: Floats, mean: float, variance: float) -> None:
    """Standard errors: sd/sqrt(n) of a mean, sqrt((m4 - sd^4)/n) of a variance, both estimated from the sample."""
    spread = sample - sample.mean()
    found = float(np.mean(spread**2))
    assert abs(sample.mean() - mean) < STANDARD_ERRORS * np.sqrt(found / len(sample))
    assert abs(found - variance) < STANDARD_ERRORS * np.sqrt((np.mean(spread**4) - found**2) / len(sample))


# The PERT-beta distribution


def test_mean_and_variance_are_those_of_the_beta_distribution_and_not_the_classic_rule() -> None:
    """The classic ((b - a)/6)^2 says 2.25 for 2, 5, 11; the distribution that is drawn from has 2.75."""
    known = KNOWN["beta_pert"]
    of = Points(known["a"], known["m"], known["b"])
    assert of.mean_s == pytest.approx(known["mean"], rel=1e-12)
    assert of.variance == pytest.approx(known["var"], rel=1e-12)
    assert ((of.high_s - of.low_s) / 6) ** 2 == pytest.approx(known["classic_var"], rel=1e-12)
    assert known["var"] != known["classic_var"]


@pytest.mark.parametrize("mode", MODES)
def test_mean_and_variance_agree_with_scipy_at_every_shape(mode: float) -> None:
    of = Points(100, 100 + 500 * mode, 600)
    assert of.mode == pytest.approx(mode, abs=1e-12)
    assert of.mean_s == pytest.approx(100 + 500 * beta(mode).mean(), rel=1e-12)
    assert of.variance == pytest.approx(500**2 * beta(mode).var(), rel=1e-12)


def test_many_draws_have_the_mean_and_the_variance_of_the_distribution() -> None:
    known = KNOWN["beta_pert"]
    of = Points(1000 * known["a"], 1000 * known["m"], 1000 * known["b"])
    agrees(drawn(of, which(MANY)).astype(np.float64) / 1000, known["mean"], known["var"])


@pytest.mark.parametrize("mode", [*MODES, 0.003, 0.997])
def test_the_quantile_table_is_within_two_parts_in_ten_million_of_scipy(mode: float) -> None:
    """The largest error found is 1.1e-7 of the width, at mode 0: for a width of an hour 0.4 ms."""
    asked = (np.arange(LEVELS) + 0.5) / LEVELS
    assert float(np.max(np.abs(quantiles(mode) - beta(mode).ppf(asked)))) < 2e-7


@pytest.mark.parametrize("mode", MODES)
def test_durations_are_pert_beta(mode: float) -> None:
    found = drawn(Points(100, 100 + 500 * mode, 600), which())
    assert stats.kstest(found, lambda each: beta(mode).cdf((each - 100) / 500)).pvalue > SAME


def test_the_same_test_rejects_a_triangle_and_a_shape_that_is_a_little_off() -> None:
    found = drawn(Points(100, 225, 600), which())
    assert stats.kstest(found, stats.triang(0.25, 100, 500).cdf).pvalue < SAME
    assert stats.kstest(found, lambda each: beta(0.27).cdf((each - 100) / 500)).pvalue < SAME


def test_equal_points_leave_nothing_to_chance() -> None:
    assert (drawn(Points(90, 90, 90), which(50)) == 90).all()
    assert (drawn(Points(0, 0, 0), which(50)) == 0).all()


def test_a_single_value_gets_the_spread_and_three_values_stand() -> None:
    assert points(Takes(600), (0.8, 1.0, 1.6)) == Points(480, 600, 960)
    assert points(Takes(600, 500, 1200), (0.8, 1.0, 1.6)) == Points(500, 600, 1200)


# What is left of a step under way


@pytest.mark.parametrize("factor", [1.0, 1.3])
@pytest.mark.parametrize("passed", [0.05, 0.25, 0.6, 0.9, 0.97])
def test_the_rest_of_a_step_is_the_distribution_given_what_has_passed(passed: float, factor: float) -> None:
    of, lasted_s = Points(480, 600, 960), factor * (480 + 480 * passed)
    whole = remainder(of, which(), np.full(DRAWS, factor, dtype=np.float32), lasted_s)
    below = beta(0.25).cdf(passed)
    left = beta(0.25).sf(passed)
    assert stats.kstest(whole, lambda each: (beta(0.25).cdf((each / factor - 480) / 480) - below) / left).pvalue > SAME
    assert stats.kstest(whole, lambda each: beta(0.25).cdf((each / factor - 480) / 480)).pvalue < SAME


def test_a_step_that_has_not_reached_its_optimistic_time_is_drawn_whole() -> None:
    whole = remainder(Points(480, 600, 960), which(), np.ones(DRAWS, dtype=np.float32), 300)
    assert stats.kstest(whole, lambda each: beta(0.25).cdf((each - 480) / 480)).pvalue > SAME


@pytest.mark.parametrize("factor", [1.0, 1.3])
def test_past_the_pessimistic_time_the_rest_is_exponential(factor: float) -> None:
    lasted_s = 960 * factor + 100
    rest = remainder(Points(480, 600, 960), which(), np.full(DRAWS, factor, dtype=np.float32), lasted_s) - lasted_s
    assert (rest > 0).all()
    assert stats.kstest(rest, stats.expon(scale=180 * factor).cdf).pvalue > SAME
    assert stats.kstest(rest, stats.expon(scale=190 * factor).cdf).pvalue < SAME


def test_just_before_its_pessimistic_time_a_step_is_not_taken_to_end_at_once() -> None:
    """The last 7 % of the width are beyond the last quantile that is drawn; something is left there all the same."""
    rest = remainder(Points(480, 600, 960), which(), np.ones(DRAWS, dtype=np.float32), 940) - 940
    mean_s = 480 * beta(0.25).expect(lb=460 / 480, ub=1, conditional=True) + 480 - 940
    assert rest.mean() == pytest.approx(mean_s, rel=0.05)


_seconds = st.integers(0, 90 * 3600)


@settings(max_examples=200, deadline=None)
@given(
    three=st.lists(_seconds, min_size=3, max_size=3).map(sorted), lasted_s=_seconds, factor=st.sampled_from([0.6, 1, 2])
)
def test_no_step_is_shorter_than_it_has_lasted_whatever_its_points(
    three: list[int], lasted_s: int, factor: float
) -> None:
    of = Points(*three)
    whole = remainder(of, which(200), np.full(200, factor, dtype=np.float32), lasted_s)
    assert np.isfinite(whole).all()
    assert (whole >= lasted_s).all()
    assert (drawn(of, which(200)) >= of.low_s - 0.02).all()
    assert (drawn(of, which(200)) <= of.high_s + 0.02).all()


# Maxima and sums, by the network


def walked(made: Procedure, columns: list[Floats]) -> Floats:
    """The team's finish when the steps take so many thousands of seconds, in thousands of seconds."""
    kernel = Kernel(build(made), NOTHING_YET, 0)
    return kernel.last_finish(kernel.finishes(1000 * np.stack(columns, axis=1))).astype(np.float64) / 1000


def two_people_meet(one: Floats, other: Floats) -> Floats:
    made = procedure(task("a", [1], who="EV1"), task("b", [1], who="EV2"), task("meet", [0], after=["a", "b"]))
    return walked(made, [one, other, np.zeros(len(one))])


def test_where_two_people_meet_the_later_of_two_uniform_durations_counts() -> None:
    uniform = np.random.default_rng(SEED).random((2, MANY))
    known = KNOWN["max_two_uniform"]
    agrees(two_people_meet(uniform[0], uniform[1]), known["mean"], known["var"])


def test_where_two_people_meet_the_later_of_two_normal_durations_counts() -> None:
    """Shifted by ten standard deviations, so that none is negative."""
    normal = np.random.default_rng(SEED).standard_normal((2, MANY)) + 10
    known = KNOWN["max_two_std_normals"]
    agrees(two_people_meet(normal[0], normal[1]) - 10, known["mean"], known["var"])


def test_the_durations_of_one_person_add_up() -> None:
    uniform = np.random.default_rng(SEED).random((12, MANY))
    known = KNOWN["sum_12_uniform"]
    agrees(walked(procedure(task("a", [1] * 12, who="EV1")), list(uniform)), known["mean"], known["var"])


def test_a_single_step_ends_when_its_duration_says_triangular_ones_here() -> None:
    """The forecast draws from no triangle; its PERT-beta of the same points has mean 5.5 and variance 2.75."""
    known = KNOWN["triangular"]
    sample = np.random.default_rng(SEED).triangular(known["a"], known["m"], known["b"], MANY)
    agrees(walked(procedure(task("a", [1], who="EV1")), [sample]), known["mean"], known["var"])


def test_the_tolerance_of_these_checks_tells_two_durations_from_one() -> None:
    uniform = np.random.default_rng(SEED).random(MANY)
    with pytest.raises(AssertionError):
        agrees(two_people_meet(uniform, uniform), KNOWN["max_two_uniform"]["mean"], KNOWN["max_two_uniform"]["var"])
