"""Claims on the forecast of a run: what it is bound by, what moves it, what leaves it alone."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from app.core.fold import fold
from app.core.forecast import Draws, Forecast, Spread, forecast, in_per_cent, points_of, spread_of, team_chance, works
from app.core.procedure import Procedure, StepId
from app.core.situation import Prepared, Situation
from tests.core.building import procedure, step, task
from tests.core.guesses import procedures, runs
from tests.core.running import marked

SETTINGS = settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much]
)
HOUR = 3600
MINUTE = 60


def of(situation: Situation, draws: int = 2000, seed: int = 3) -> Forecast:
    found = forecast(Draws(situation, np.random.default_rng(seed), draws))
    assert found is not None
    return found


def durations(situation: Situation, name: StepId, draws: int = 2000) -> NDArray[np.floating]:
    return Draws(situation, np.random.default_rng(3), draws).durations[:, situation.network.index[name]]


def shown(spread: Spread) -> Sequence[int]:
    return (spread.tenth_s, spread.quarter_s, spread.half_s, spread.three_quarters_s, spread.nine_tenths_s)


TWO = procedure(task("a", [600] * 4, who="EV1"), task("b", [600] * 4, who="EV2"), finish_s=3000)


# Seeds and common random numbers


def test_the_same_seed_and_state_give_the_same_forecast_and_another_seed_another() -> None:
    situation = marked(TWO, 700, {"a/1": 650})
    assert of(situation) == of(situation)
    assert of(situation) != of(situation, seed=4)


def test_another_persons_marks_do_not_change_my_draws() -> None:
    before, after = marked(TWO, 700, {"a/1": 650}), marked(TWO, 700, {"a/1": 650, "b/1": 400})
    assert of(before).people["EV1"] == of(after).people["EV1"]
    assert of(before).people["EV2"] != of(after).people["EV2"]


# Figures


def test_no_forecast_is_sure() -> None:
    assert [in_per_cent(share) for share in (0.0, 0.004, 0.5, 0.996, 1.0)] == [1, 1, 50, 99, 99]


def test_percentiles_and_chance_of_draws_by_hand() -> None:
    spread = spread_of(np.arange(0, 101, dtype=np.float32), 40)
    assert shown(spread) == (10, 25, 50, 75, 90)
    assert spread.chance == 41


def test_without_a_limit_there_is_no_chance_and_with_a_closer_one_it_is_smaller() -> None:
    chances = [
        of(marked(procedure(task("a", [600] * 4, who="EV1"), finish_s=limit), 0, {})).team.chance
        for limit in (1500, 2300, 2500, 2700, 4000)
    ]
    assert chances == sorted(chances, key=lambda each: each or 0)
    assert (chances[0], chances[-1]) == (1, 99)
    assert len(set(chances)) == 5
    assert of(marked(procedure(task("a")), 0, {})).team.chance is None


def test_nothing_left_to_do_has_no_forecast() -> None:
    done = marked(procedure(task("a")), 100, {"a/1": 60})
    assert forecast(Draws(done, np.random.default_rng(3), 10)) is None


def test_a_person_who_is_through_has_no_figures_of_their_own() -> None:
    made = procedure(task("a", who="EV1"), task("b", who="EV2"))
    assert set(of(marked(made, 70, {"a/1": 60})).people) == {"EV2"}


# Pace


def test_who_was_slow_so_far_is_forecast_later_and_who_was_quick_earlier() -> None:
    """Points of 600 s have mean 640 s: who takes that is of pace 1."""
    made = procedure(task("a", [600] * 8, who="EV1"))

    def left_s(each_s: int) -> int:
        at_s = 4 * each_s
        situation = marked(made, at_s, {f"a/{number}": number * each_s for number in range(1, 5)})
        return of(situation, 10_000).team.half_s - at_s

    assert left_s(640) == pytest.approx(4 * 640, rel=0.01)
    # By hand: the noise of four such steps is 4 * 160 * 320 / 7 / 2560^2 = 0.00446, so what was seen weighs
    # 0.0225 / (0.0225 + 0.00446) = 0.834 of the way from pace 1.
    assert left_s(800) / left_s(640) == pytest.approx(1.25**0.834, rel=0.01)
    assert left_s(500) / left_s(640) == pytest.approx((500 / 640) ** 0.834, rel=0.01)


def test_who_waited_for_a_window_is_not_taken_for_slow() -> None:
    made = procedure(
        task("a", [600, step(900, within="day"), 900], who="EV1"), windows={"day": [(6000, 9000)]}, finish_s=20_000
    )
    waited = durations(marked(made, 7000, {"a/1": 640, "a/2": 6960}), "a/3", 10_000)
    assert np.median(waited) == pytest.approx(960, rel=0.03)


def test_a_recorded_start_before_the_window_counts_as_the_start() -> None:
    made = procedure(task("a", [step(900, within="day"), 900], who="EV1"), windows={"day": [(6000, 9000)]})
    recorded = situation_with_start(made, "a/1", 2000, {"a/1": 6960}, 7000)
    assert np.median(durations(recorded, "a/2")) > 2 * 960


def situation_with_start(made: Procedure, name: StepId, start_s: int, marks: dict[StepId, int], at_s: int) -> Situation:
    state = replace(marked(made, at_s, marks).state, started={name: start_s})
    return Situation(Prepared(made), state, at_s)


def test_a_step_of_nobody_has_no_pace() -> None:
    made = procedure(task("wait", [600]), task("work", [600], who="EV1"))
    situation = marked(made, 0, {})
    of_points = points_of(situation, 0)
    assert durations(situation, "wait/1").min() >= of_points.low_s
    assert durations(situation, "wait/1").max() <= of_points.high_s
    assert durations(situation, "work/1").max() > of_points.high_s


def test_a_step_of_two_takes_the_geometric_mean_of_their_paces() -> None:
    """With points that leave nothing to chance the durations are the paces."""
    both = procedure(task("a", who="EV1"), task("b", who="EV2"), task("c", who=("EV1", "EV2")))
    situation = marked(replace(both, spread=(1.0, 1.0, 1.0)), 0, {})
    one, other, shared = (durations(situation, name) / 60 for name in ("a/1", "b/1", "c/1"))
    assert not np.allclose(one, other, rtol=0.01)
    assert np.allclose(shared, np.sqrt(one * other), rtol=1e-5)


def test_all_steps_of_one_person_share_the_pace_of_a_draw() -> None:
    situation = marked(replace(TWO, spread=(1.0, 1.0, 1.0)), 0, {})
    assert np.allclose(durations(situation, "a/2"), durations(situation, "a/4"))
    assert abs(np.corrcoef(durations(situation, "a/2"), durations(situation, "b/2"))[0, 1]) < 0.1


# Steps under way


@pytest.mark.parametrize("at_s", [100, 900, 1000, 1200, 3600])
def test_a_step_under_way_has_something_left_however_long_it_lasts(at_s: int) -> None:
    found = of(marked(procedure(task("a", who="EV1", steps=[600])), at_s, {}))
    assert found.team.tenth_s > at_s
    assert len(set(shown(found.team))) == 5


def test_a_revised_estimate_is_what_is_drawn_without_a_pace_and_says_nothing_of_one() -> None:
    """Who said how long it takes knew who does it; and what it took then is no sign of being slow."""
    situation = marked(TWO, 0, {})
    revised = Situation(Prepared(TWO), replace(situation.state, takes={"a/1": 1200}), 0)
    found = durations(revised, "a/1", 10_000)
    assert found.min() >= 0.8 * 1200
    assert found.max() <= 1.6 * 1200
    assert found.mean() == pytest.approx(1280, rel=0.01)
    assert durations(situation, "a/1", 10_000).max() > 1.6 * 600
    late = marked(TWO, 3000, {"a/1": 2500})
    told = Situation(Prepared(TWO), replace(late.state, takes={"a/1": 2400}), 3000)
    assert [work.people for work in works(late)] == [(0,)]
    assert works(told) == ()


def test_a_put_off_step_takes_no_time() -> None:
    made = procedure(task("a", [600], who="EV1"), task("b", [600], who="EV1", may_put_off=True), finish_s=900)
    situation = marked(made, 0, {})
    off = Situation(Prepared(made), replace(situation.state, put_off={"b": "late"}), 0)
    alone = of(marked(procedure(task("a", [600], who="EV1"), finish_s=900), 0, {}), 10_000)
    assert shown(of(off, 10_000).team) == pytest.approx(shown(alone.team), rel=0.01)
    draws = Draws(situation, np.random.default_rng(3), 2000)
    assert team_chance(draws, frozenset([1]), 900) == of(off).team.chance
    assert team_chance(draws, frozenset(), 900) < 5 < 90 < team_chance(draws, frozenset([1]), 900)


# Windows


def test_the_chance_of_a_window_is_the_share_of_the_draws_that_end_in_it() -> None:
    """Nobody's steps: 600 s, then 300 s from 1000 s on or whenever the first is done, within 1000 to 1400."""
    made = procedure(task("a", [1000]), task("b", [300], after=["a"], within="day"), windows={"day": [(1000, 1400)]})
    situation = marked(made, 0, {})
    (window,) = of(situation, 10_000).windows
    first, second = durations(situation, "a/1", 10_000), durations(situation, "b/1", 10_000)
    by_hand = np.mean(np.maximum(first, 1000) + second <= 1400)
    assert (window.window, window.task, window.opens_s, window.closes_s) == ("day", "b", 1000, 1400)
    assert window.chance == round(100 * by_hand)
    assert 10 < window.chance < 90


def test_a_draw_too_long_for_every_opening_starts_in_it_and_misses_it() -> None:
    """It must not start at once, as if there were no window, and so end before the window has opened."""
    made = procedure(task("a", [90], within="day"), windows={"day": [(1000, 1100)]}, finish_s=1100)
    situation = marked(made, 0, {})
    found = of(situation, 10_000)
    takes = durations(situation, "a/1", 10_000)
    assert found.team.tenth_s == pytest.approx(1000 + np.quantile(takes, 0.1), abs=1)
    assert found.team.nine_tenths_s == pytest.approx(1000 + np.quantile(takes, 0.9), abs=1)
    assert found.windows[0].chance == found.team.chance == round(100 * float(np.mean(takes <= 100)))


def test_a_window_that_has_closed_has_no_chance_to_be_told() -> None:
    """What has no opening left is among the projection's misses; a chance of it would say nothing."""
    made = procedure(task("a", [600]), task("b", [60], after=["a"], within="day"), windows={"day": [(0, 800)]})
    assert of(marked(made, 2000, {"a/1": 1990})).windows == ()
    assert of(marked(made, 650, {})).windows[0].chance > 1


def test_an_earlier_opening_than_the_projected_one_counts_too() -> None:
    """The projection just misses the first opening; the draws that make it are not late for the second."""
    made = procedure(
        task("a", [1000]), task("b", [60], after=["a"], within="day"), windows={"day": [(0, 1050), (3000, 9000)]}
    )
    (window,) = of(marked(made, 0, {})).windows
    assert (window.opens_s, window.chance) == (3000, 99)


# Anything at all


@st.composite
def situations(draw: st.DrawFn) -> Situation:
    made = draw(procedures())
    made = replace(made, spread=draw(st.sampled_from([(0.8, 1.0, 1.6), (0.0, 1.0, 1.0), (1.0, 1.0, 9.0)])))
    _, log, at_s = draw(runs(made))
    return Situation(Prepared(made), fold(log), at_s)


@SETTINGS
@given(situation=situations())
def test_any_run_has_an_ordered_forecast_that_ends_no_open_step_before_now(situation: Situation) -> None:
    draws = Draws(situation, np.random.default_rng(3), 50)
    finishes = draws.kernel().finishes(draws.durations)
    open_steps = [step for step in range(len(situation.network.steps)) if situation.is_open(step)]
    assert (finishes[:, open_steps] >= situation.at_s).all()
    found = forecast(draws)
    assert (found is None) == (not open_steps)
    for spread in () if found is None else (found.team, *found.people.values()):
        assert list(shown(spread)) == sorted(shown(spread))
        assert (spread.chance is None) == (situation.procedure.limits.finish_s is None)
        assert spread.chance is None or 1 <= spread.chance <= 99
    assert all(1 <= window.chance <= 99 for window in (() if found is None else found.windows))


@SETTINGS
@given(data=st.data())
def test_what_leaves_nothing_to_chance_is_forecast_as_it_is_projected(data: st.DataObject) -> None:
    """Points that are all equal, and nobody whose pace could differ."""
    made = data.draw(procedures())
    bare = [replace(each, who=(), steps=tuple(replace(one, who=()) for one in each.steps)) for each in made.tasks]
    made = replace(made, tasks=tuple(bare), spread=(1.0, 1.0, 1.0))
    marks = data.draw(st.lists(st.sampled_from(made.steps), unique=True, max_size=6))
    at_s = data.draw(st.integers(0, 200))
    events = [(min(at_s, 20 * place), one.id) for place, one in enumerate(marks)]
    situation = marked(made, at_s, {name: mark_s for mark_s, name in events})
    assume(any(situation.is_open(one) for one in range(len(made.steps))))
    assert set(shown(of(situation, 20).team)) == {situation.projection.end_s}


def test_extremes_have_a_forecast_too() -> None:
    long_s = 90 * HOUR
    five = ("A", "B", "C", "D", "E")
    together = procedure(task("a", [long_s], who=five))
    assert long_s * 0.8 < of(marked(together, 0, {})).team.half_s < long_s * 1.6
    assert of(marked(together, 2 * long_s, {})).team.tenth_s > 2 * long_s
    assert set(shown(of(marked(procedure(task("a", [0, 0])), 0, {})).team)) == {0}
    assert set(shown(of(marked(procedure(task("a", [0, 0])), 50, {})).team)) == {50}
    no_width = procedure(task("a", [step(600)], who="EV1"))
    assert of(marked(replace(no_width, spread=(1.0, 1.0, 1.0)), 5000, {})).team.half_s == 5000
    early = situation_with_start(together, "a/1", 0, {}, long_s + 77)
    assert of(early).team.tenth_s >= long_s + 77
