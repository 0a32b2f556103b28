"""Proposed durations: the limits of few and of many runs, what is monotone, and the sentence that goes with them."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.draws import LEVELS, Points, drawn, quantiles
from app.core.durations import StepDurations, Told
from app.core.paces import SIGMA
from app.core.procedure import Step, Takes
from app.core.proposing import (
    SPREAD_RUNS,
    _normal_range,
    proposal,
    rounded,
    weigh,
)
from app.core.sample import Sample, sample
from app.core.times import LONGEST_S

SPREAD = (0.8, 1.0, 1.6)
PLAN = Points(480, 600, 960)
TOOK = st.integers(1, 100_000)


@st.composite
def plans(draw: st.DrawFn) -> Points:
    low, likely, high = sorted(draw(st.tuples(TOOK, TOOK, TOOK)))
    return Points(low, likely, high)


def seen(*values: float) -> Sample:
    found = sample(values)
    assert found is not None
    return found


def of(takes: Takes, *took_s: int | None) -> StepDurations:
    step = Step("a", 1, "Do it", takes)
    return StepDurations(step, tuple(Told(run, each) for run, each in enumerate(took_s, start=1)))


def _median(of: Points) -> float:
    table = quantiles(of.mode)
    return of.low_s + (of.high_s - of.low_s) * float(table[LEVELS // 2 - 1] + table[LEVELS // 2]) / 2


@given(plans())
def test_without_a_run_the_proposal_is_the_plan(plan: Points) -> None:
    takes = Takes(round(plan.likely_s), round(plan.low_s), round(plan.high_s))
    for told in ((), (None, None)):
        made = proposal(of(takes, *told), SPREAD)
        assert (made.takes, made.weight, made.changed) == (takes, 0, False)
        assert made.reason.endswith("the plan stands.")


@given(plans(), st.lists(TOOK, min_size=1, max_size=40))
def test_a_proposal_is_in_order_whole_and_fit_for_a_file(plan: Points, took: list[int]) -> None:
    takes = Takes(round(plan.likely_s), round(plan.low_s), round(plan.high_s))
    made = proposal(of(takes, *took), SPREAD)
    low, likely, high = made.takes.optimistic_s, made.takes.likely_s, made.takes.pessimistic_s
    assert low is not None
    assert high is not None
    assert 0 < low <= likely <= high < LONGEST_S
    assert 0 < made.weight < 1


@given(plans(), st.lists(TOOK, min_size=1, max_size=40))
def test_the_median_lies_between_that_of_the_plan_and_that_of_the_runs(plan: Points, took: list[int]) -> None:
    made = weigh(plan, seen(*took))
    ends = sorted((_median(plan), seen(*took).median))
    assert ends[0] * 0.999 <= _median(made.points) <= ends[1] * 1.001


@given(plans(), st.lists(TOOK, min_size=1, max_size=40), st.floats(1.01, 3))
def test_slower_runs_make_every_point_later(plan: Points, took: list[int], factor: float) -> None:
    once, slower = weigh(plan, seen(*took)), weigh(plan, seen(*(each * factor for each in took)))
    assert slower.weight == pytest.approx(once.weight)
    for name in ("low_s", "likely_s", "high_s"):
        assert getattr(slower.points, name) == pytest.approx(getattr(once.points, name) * factor**once.weight)


@given(plans(), TOOK, st.integers(1, 60))
def test_each_further_run_that_says_the_same_weighs_more(plan: Points, took: int, n: int) -> None:
    assert weigh(plan, seen(*[took] * n)).weight < weigh(plan, seen(*[took] * (n + 1))).weight


def test_the_weight_of_one_run_is_buehlmanns_by_hand() -> None:
    """The plan 8, 10, 16 min: the logarithms of its ten and ninety lie 2.56 deviations apart; k = 0.0190/0.0225."""
    table = 480 + 480 * quantiles(0.25).astype(float)
    spread = math.log(np.quantile(table, 0.9) / np.quantile(table, 0.1)) / 2.563103
    assert spread == pytest.approx(0.1379, abs=2e-4)
    made = weigh(PLAN, seen(720))
    assert made.weight == pytest.approx(1 / (1 + spread**2 / SIGMA**2), rel=1e-3)
    # One run says nothing of the spread, so all three points are moved by the same factor.
    factor = (720 / _median(PLAN)) ** made.weight
    assert made.points.low_s == pytest.approx(480 * factor, rel=1e-4)
    assert made.points.likely_s == pytest.approx(600 * factor, rel=1e-4)
    assert made.points.high_s == pytest.approx(960 * factor, rel=1e-4)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("truth", [Points(480, 600, 960), Points(600, 700, 900), Points(300, 600, 1500)])
def test_of_many_runs_only_they_count(truth: Points, seed: int) -> None:
    """3,000 runs that are drawn from other points than the plan's: its median, and what lies ten to ninety about it."""
    which = np.random.default_rng(seed).integers(0, LEVELS, 3000).astype(np.uint16)
    took = drawn(truth, which).astype(float)
    made = weigh(PLAN, seen(*took))
    shares = made.points.low_s + (made.points.high_s - made.points.low_s) * quantiles(made.points.mode).astype(float)
    assert made.weight > 0.99
    assert np.median(shares) == pytest.approx(np.median(took), rel=0.005)
    assert np.quantile(shares, [0.1, 0.9]) == pytest.approx(np.quantile(took, [0.1, 0.9]), rel=0.08)


@pytest.mark.parametrize("worst", [1_200, 6_000, 60_000])
def test_one_bad_run_among_many_changes_little(worst: int) -> None:
    took = [570, 580, 590, 600, 605, 610, 620, 630, 640, 650, 660, 665, 670, 680, 690]
    calm, upset = weigh(PLAN, seen(*took)), weigh(PLAN, seen(*took, worst))
    for name in ("low_s", "likely_s", "high_s"):
        assert getattr(upset.points, name) == pytest.approx(getattr(calm.points, name), rel=0.06)


def test_runs_that_vary_more_than_planned_spread_the_points_and_weigh_less() -> None:
    steady = weigh(PLAN, seen(600, 610, 620, 630, 640, 650, 660))
    wild = weigh(PLAN, seen(300, 400, 550, 630, 800, 1000, 1300))
    assert wild.weight < steady.weight
    assert wild.points.high_s - wild.points.low_s > 2 * (steady.points.high_s - steady.points.low_s)


def test_a_plan_without_any_spread_gets_one_as_the_runs_vary() -> None:
    made = weigh(Points(300, 300, 300), seen(240, 290, 330, 420))
    assert made.points.low_s < made.points.likely_s < made.points.high_s


def test_a_step_that_is_planned_to_take_no_time_is_left_alone() -> None:
    made = proposal(of(Takes(0), 20, 30), SPREAD)
    assert (made.takes, made.changed) == (Takes(0), False)
    assert "no time" in made.reason


@pytest.mark.parametrize(
    ("takes", "took", "reason"),
    [
        (
            Takes(600),
            (720,),
            "1 run, median 12m: 20 % longer than the likely 10m, 14 % longer than the plan's median of 10m 31s; "
            "weighed 0.54 to the plan's 0.46, the median is 11m 18s.",
        ),
        (
            Takes(600, 480, 960),
            (700, 720, 730),
            "3 runs, median 12m: 20 % longer than the likely 10m, 14 % longer than the plan's median of 10m 31s; "
            "weighed 0.81 to the plan's 0.19, the median is 11m 42s. "
            "Plan and runs together vary 8 % less than planned, so the points lie closer together.",
        ),
        (
            Takes(60),
            (150, None),
            "1 run, median 2m 30s: 2.5 times the likely 1m, 2.4 times the plan's median of 1m 03s; "
            "weighed 0.54 to the plan's 0.46, the median is 1m 41s.",
        ),
        (
            Takes(540, 420, 1080),
            (300, 500, 690, 702, 1200, 1900),
            "6 runs, median 11m 36s: 29 % longer than the likely 9m, 17 % longer than the plan's median of 9m 54s; "
            "weighed 0.42 to the plan's 0.58, the median is 10m 34s. Plan and runs together vary 2.3 times as much as "
            "planned, so the points lie farther apart, and the likely one is lower, though the median is higher.",
        ),
        (
            Takes(600),
            (600,),
            "1 run, median 10m: as long as the likely 10m, 5 % shorter than the plan's median of 10m 31s; "
            "weighed 0.54 to the plan's 0.46, the median is 10m 14s.",
        ),
        (
            Takes(300, 300, 300),
            (240, 290, 330, 420),
            "4 runs, median 5m 10s: 3 % longer than the likely 5m, 3 % longer than the plan's median of 5m; "
            "weighed 0.85 to the plan's 0.15, the median is 5m 08s. The plan has no spread, so one is added as the "
            "runs vary, and the likely one is lower, though the median is higher.",
        ),
        (Takes(600), (None, None), "Of 2 runs none tells: the plan stands."),
        (Takes(600), (), "No run tells how long it takes: the plan stands."),
    ],
)
def test_the_reason_is_a_sentence(takes: Takes, took: tuple[int | None, ...], reason: str) -> None:
    assert proposal(of(takes, *took), SPREAD).reason == reason


@given(plans(), st.lists(TOOK, min_size=1, max_size=12))
def test_the_reason_never_contradicts_what_is_proposed(plan: Points, took: list[int]) -> None:
    """Longer than the plan's median is a higher median; a likely duration that goes the other way is told."""
    takes = Takes(round(plan.likely_s), round(plan.low_s), round(plan.high_s))
    made = proposal(of(takes, *took), SPREAD)
    assert made.ratio is not None
    assert made.planned_median_s is not None
    assert made.ratio == pytest.approx(seen(*took).median / _median(plan), rel=1e-3)
    if abs(made.ratio - 1) < 0.01:
        return
    higher = made.ratio > 1
    assert (weigh(plan, seen(*took)).median > made.planned_median_s) is higher
    if made.takes.likely_s != takes.likely_s:
        other_way = (made.takes.likely_s > takes.likely_s) is not higher
        assert ("though the median is" in made.reason) is other_way


def test_a_proposal_that_rounds_to_the_plan_is_none() -> None:
    """The runs stand at the median that the three points have."""
    closer = proposal(of(Takes(600), 632, 633, 634), SPREAD)
    assert (closer.takes, closer.changed) == (Takes(600, 495, 930), True)
    same = proposal(of(Takes(600), 633), SPREAD)
    assert (same.takes, same.changed) == (Takes(600), False)
    assert same.reason.endswith("rounded, that is the plan.")


@pytest.mark.parametrize(
    ("seconds", "planned"),
    [
        (0.2, 1),
        (42.4, 42),
        (59.6, 60),
        (62, 60),
        (63, 65),
        (598, 600),
        (607, 600),
        (608, 615),
        (3590, 3585),
        (3631, 3660),
    ],
)
def test_durations_are_rounded_as_somebody_plans_them(seconds: float, planned: int) -> None:
    assert rounded(seconds) == planned


@given(st.floats(0, 1e6), st.floats(0, 1e6))
def test_rounding_keeps_the_order(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert rounded(low) <= rounded(high)


@pytest.mark.parametrize("n", [2, 3, 5, 10, 40])
def test_the_range_of_few_normal_numbers_is_that_of_many_draws(n: int) -> None:
    draws = np.random.default_rng(n).standard_normal((40_000, n))
    ranges = np.quantile(draws, 0.9, axis=1) - np.quantile(draws, 0.1, axis=1)
    assert _normal_range(n) == pytest.approx(float(ranges.mean()), rel=0.05)


def test_the_plans_spread_counts_as_ten_runs() -> None:
    """The runs are of one length: what is left of the variance is the plan's share of it."""
    made = weigh(PLAN, seen(*[600] * 11))
    wider = math.sqrt(SPREAD_RUNS / (SPREAD_RUNS + 10))
    assert math.log(made.points.high_s / made.points.low_s) == pytest.approx(wider * math.log(960 / 480), rel=1e-6)
