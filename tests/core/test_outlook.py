"""The outlook: one set of draws for every chance in it, and the options that matter kept."""

from dataclasses import replace

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.core.chain import chain
from app.core.events import TasksPutOff
from app.core.forecast import Draws, forecast, in_per_cent, team_chance
from app.core.kernel import Kernel
from app.core.outlook import OPTIONS_SHOWN, Outlook, chance, compared, outlook, shown
from app.core.putting_off import Option, Options
from app.core.situation import Prepared, Situation
from app.core.state import EMPTY
from app.core.suppose import suppose
from app.core.what_if import what_if
from tests.core.building import procedure, task
from tests.core.guesses_late import late_situations
from tests.core.running import Run

SETTINGS = settings(
    max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)


def draw(situation: Situation) -> Draws:
    return Draws(situation, np.random.default_rng(11), 400)


def figures(found: Outlook) -> tuple[object, ...]:
    return found.forecast, found.options, found.chances, found.best, found.best_chance, found.chain


@SETTINGS
@given(situation=late_situations())
def test_any_run_has_an_outlook_and_the_same_each_time(situation: Situation) -> None:
    found = outlook(situation, draw)
    assert found.situation is situation
    assert len(found.chances) == len(found.options.options)
    assert found.chain == chain(situation)
    limit = situation.procedure.limits.finish_s
    for each in (*found.chances, *((found.best_chance,) if found.best else ())):
        assert (each is None) == (limit is None)
        assert each is None or 1 <= each <= 99
    if found.forecast is not None and limit is not None:
        assert found.forecast.team.chance == team_chance(draw(situation), frozenset(), limit)
        assert all(each is not None and each >= (found.forecast.team.chance or 0) for each in found.chances)
    assert figures(outlook(situation, draw)) == figures(found)


@SETTINGS
@given(situation=late_situations())
def test_the_chance_of_an_option_counts_the_draws_of_the_run_without_it(situation: Situation) -> None:
    """Draw by draw: what is under way, and every duration, is as now; the lists are those without its tasks."""
    limit = situation.procedure.limits.finish_s
    if limit is None:
        return
    draws, found = draw(situation), outlook(situation, draw)
    for option, told in zip(found.options.options, found.chances, strict=True):
        then = suppose(situation, [TasksPutOff(option.tasks, "late")])
        out = then.facts
        facts = replace(draws.facts, removed=out.removed, removed_s=out.removed_s, freed_s=out.freed_s)
        kernel = Kernel(then.network, facts, situation.at_s, runs_over=True)
        ends = kernel.last_finish(kernel.finishes(draws.durations))
        assert told == in_per_cent(float(np.mean(ends <= limit)))


@SETTINGS
@given(situation=late_situations())
def test_the_chance_with_the_best_set_is_that_of_the_run_with_it_taken(situation: Situation) -> None:
    found = outlook(situation, draw)
    if found.best is not None:
        then = suppose(situation, found.best.events)
        told = forecast(draw(then))
        assert told is not None
        assert found.best_chance == told.team.chance == chance(then, draw)


def option(worth: int, finish_s: int, *, plan: bool = False, limit: bool = False) -> Option:
    return Option((f"t{worth}",), (), worth, 1000 - finish_s, finish_s, 0, 0, plan, limit, True)


@given(
    first_limit=st.integers(0, 12),
    first_plan=st.integers(0, 12),
    count=st.integers(0, 12),
)
def test_what_is_shown_keeps_the_least_for_the_plan_and_for_the_limit(
    first_limit: int, first_plan: int, count: int
) -> None:
    every = tuple(
        option(worth, 1000 - worth, plan=worth >= first_plan, limit=worth >= first_limit) for worth in range(count)
    )
    given_options = Options(every, exact=False, of=20)
    found = shown(given_options)
    assert len(found.options) == min(count, OPTIONS_SHOWN)
    assert list(found.options) == [each for each in every if each in found.options]
    assert (found.exact, found.of) == (False, 20)
    assert found.least("plan") == given_options.least("plan")
    assert found.least("limit") == given_options.least("limit")


def test_without_a_limit_no_chance_is_told() -> None:
    made = procedure(task("a", [100], who="EV1", may_put_off=True), task("b", [100], who="EV1"))
    situation = Situation(Prepared(made), EMPTY, 0)
    found = outlook(situation, draw)
    assert [each.tasks for each in found.options.options] == [("a",)]
    assert found.chances == (None,)
    assert chance(situation, draw) is None


def test_when_nothing_is_left_nothing_is_ahead() -> None:
    run = Run(procedure(task("a", [100], who="EV1", may_put_off=True), finish_s=200)).mark(a_1=90)
    found = outlook(run.at(300), draw)
    assert (found.forecast, found.options, found.chances, found.best, found.best_chance, found.chain) == (
        None,
        Options((), True, 0),
        (),
        None,
        None,
        (),
    )


def test_a_change_is_compared_over_the_same_draws() -> None:
    run = Run(procedure(task("a", [3000], who="EV1"), task("b", [500], who="EV2"), finish_s=3300))
    situation = run.at(10)
    same = compared(situation, what_if(situation, ["b/1 takes 400 s"]), draw)
    assert same.before is situation
    assert same.forecast_before is not None
    assert same.forecast_then is not None
    assert same.forecast_then.team == same.forecast_before.team
    assert same.forecast_then.people["EV1"] == same.forecast_before.people["EV1"]
    worse = compared(situation, what_if(situation, ["EV1 loses 10 min"]), draw).forecast_then
    assert worse is not None
    assert (worse.team.chance or 0) < (same.forecast_before.team.chance or 0)
