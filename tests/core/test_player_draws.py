"""Simulated people's durations come from the forecast's distributions, and everything drawn from seed and names."""

import math
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from app.core.draws import Points
from app.core.paces import SIGMA
from app.core.player_draws import drawn_s, pace, pace_of
from app.core.player_readings import bad_value, gauge, good_value
from app.core.procedure import Supply, Value
from app.core.shares import between, share

SEEDS = range(4_000)
OF = Points(360, 480, 840)
LEAST_P = 1e-3


def _pert(of: Points) -> object:
    """scipy's beta distribution with PERT's two shapes."""
    width = of.high_s - of.low_s
    alpha, beta = 1 + 4 * (of.likely_s - of.low_s) / width, 1 + 4 * (of.high_s - of.likely_s) / width
    return stats.beta(alpha, beta, of.low_s, width)


def test_durations_over_the_seeds_are_pert_beta_and_a_triangle_is_told_apart() -> None:
    drawn = [drawn_s(OF, seed, "a/1", 0) for seed in SEEDS]
    assert stats.kstest(drawn, _pert(OF).cdf).pvalue > LEAST_P  # type: ignore[attr-defined]  # a frozen distribution
    mode = (OF.likely_s - OF.low_s) / (OF.high_s - OF.low_s)
    triangle = stats.triang(mode, OF.low_s, OF.high_s - OF.low_s)
    assert stats.kstest(drawn, triangle.cdf).pvalue < LEAST_P, "the control"


def test_durations_over_the_steps_of_one_seed_are_pert_beta_too() -> None:
    drawn = [drawn_s(OF, 7, f"a/{number}", 0) for number in SEEDS]
    assert stats.kstest(drawn, _pert(OF).cdf).pvalue > LEAST_P  # type: ignore[attr-defined]  # a frozen distribution


def test_attempts_at_a_step_are_drawn_apart() -> None:
    first, second = ([drawn_s(OF, seed, "a/1", attempt) for seed in SEEDS] for attempt in (0, 1))
    assert abs(statistics.correlation(first, second)) < 4 / math.sqrt(len(SEEDS))


def test_paces_are_lognormal_with_the_forecasts_sigma() -> None:
    logs = [math.log(pace(seed, "EV1")) for seed in SEEDS]
    assert stats.kstest(logs, stats.norm(0, SIGMA).cdf).pvalue > LEAST_P
    assert stats.kstest(logs, stats.norm(0, SIGMA * 1.15).cdf).pvalue < LEAST_P, "the control"


def test_a_step_of_several_takes_the_geometric_mean_and_one_of_nobody_none() -> None:
    assert pace_of(3, ("EV1", "EV2")) == pytest.approx(math.sqrt(pace(3, "EV1") * pace(3, "EV2")))
    assert pace_of(3, ()) == 1


def test_a_share_depends_on_the_seed_and_on_each_name() -> None:
    drawn = {share(1, "a", "b"), share(2, "a", "b"), share(1, "ab"), share(1, "a"), share(1, "b", "a")}
    assert len(drawn) == 5
    assert all(0 < share(seed, "x") < 1 for seed in range(1_000))


@given(st.integers(0, 2**53), st.integers(-100, 100), st.integers(0, 50))
def test_whole_seconds_lie_between_their_ends(seed: int, low_s: int, width_s: int) -> None:
    assert low_s <= between(seed, low_s, low_s + width_s, "x") <= low_s + width_s


def test_both_ends_are_met() -> None:
    assert {between(seed, 3, 5, "x") for seed in range(100)} == {3, 4, 5}


_bounds = st.floats(-1e6, 1e6).map(lambda bound: round(bound, 3))


@given(st.none() | _bounds, st.none() | st.floats(0, 1e4), st.integers(0, 1_000))
def test_a_good_value_is_in_tolerance_and_a_bad_one_is_not(low: float | None, width: float | None, seed: int) -> None:
    high = width if low is None or width is None else low + width
    value = Value("gap", "mm", low, high)
    assert value.in_tolerance(good_value(value, seed, "a/1"))
    if low is not None or high is not None:
        assert not value.in_tolerance(bad_value(value))


def test_a_good_value_is_well_in_tolerance() -> None:
    read = [good_value(Value("gap", "mm", 2, 6), seed, "a/1") for seed in range(500)]
    assert min(read) >= 3
    assert max(read) <= 5
    assert len(set(read)) > 10


def test_a_bad_value_is_out_by_the_width_of_the_band() -> None:
    assert bad_value(Value("gap", "mm", 2, 6)) == 10


def test_a_gauge_falls_from_full_and_lasts_past_the_plan() -> None:
    battery, plan_s = Supply("battery", ("EV1",), "%", 12.0), 4 * 3600
    for seed in range(300):
        read = [gauge(battery, "EV1", seed, at_s, plan_s) for at_s in range(0, plan_s + 1, 1800)]
        assert read[0] == 100
        assert read == sorted(read, reverse=True)
        assert read[-1] > battery.reserve


@given(st.floats(-50, 500), st.sampled_from(["%", "bar"]), st.integers(0, 10**6), st.integers(0, 10**5))
def test_a_gauge_shows_a_number_whatever_it_measures(reserve: float, unit: str, at_s: int, plan_s: int) -> None:
    shown = gauge(Supply("gas", (), unit, reserve), "", 5, at_s, plan_s)
    assert math.isfinite(shown)
    assert shown >= min(0.0, reserve) - 0.01 * (1 + abs(reserve))
