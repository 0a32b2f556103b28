"""The best set against every set at every place in every order, each as a run in which the work really is taken."""

from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import HealthCheck, given, settings

from app.core import best_set as best_set_module
from app.core.best_set import BestSet, best_set
from app.core.choices import gaps
from app.core.commands import PutOff, TakeSet, TakeWork
from app.core.events import WorkTaken
from app.core.procedure import Procedure, Task, TaskId
from app.core.reasons import why_not_now
from app.core.situation import Situation
from app.core.suppose import suppose
from tests.core.best_set_by_force import all_in, by_force, figures_of, merit, optional, situations, small, taken
from tests.core.building import procedure, step, task
from tests.core.running import Run

SETTINGS = settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
)


@SETTINGS
@given(situation=situations())
def test_where_all_was_tried_no_set_at_any_place_is_better(situation: Situation) -> None:
    small(situation)
    best = best_set(situation)
    assert best is None or best.exact
    assert (None if best is None else merit(best)) == by_force(situation)


@SETTINGS
@given(situation=situations())
def test_a_set_that_is_the_best_found_can_be_taken_and_is_no_better_than_the_best(situation: Situation) -> None:
    small(situation)
    most = best_set_module.MOST_TRIES
    best_set_module.MOST_TRIES = 1
    try:
        best = best_set(situation)
    finally:
        best_set_module.MOST_TRIES = most
    if best is not None:
        true = by_force(situation)
        assert true is not None
        assert merit(best) <= true
        sound(situation, best)


def sound(situation: Situation, best: BestSet) -> None:
    """Taking it is possible, and gives what it says."""
    tasks = tuple(situation.procedure.task(each) for each, _ in best.work)
    then = taken(situation, best.work)
    assert then is not None
    assert all_in(situation, then, tasks)
    assert (best.lead_after_s, best.finish_after_s) == (then.lead_s, then.projection.end_s)
    assert merit(best) == figures_of(situation, tasks, then)
    for each in tasks:
        assert why_not_now(situation, each, [other.id for other in tasks]) is None


@SETTINGS
@given(situation=situations())
def test_taking_the_best_set_gives_what_it_says(situation: Situation) -> None:
    best = best_set(situation)
    if best is not None:
        assert len(best.work) > 1
        sound(situation, best)
        after_what_it_waits_for(situation, best)


def after_what_it_waits_for(situation: Situation, best: BestSet) -> None:
    order = [each for each, _ in best.work]
    then = suppose(situation, best.events)
    for each in order:
        for one in situation.procedure.task(each).steps:
            for earlier in {other.task for other in one.after} & {*order} - {each}:
                assert order.index(earlier) < order.index(each)
                for own in then.lists.values():
                    assert not {earlier, each} <= {*own} or own.index(earlier) < own.index(each)


@SETTINGS
@given(situation=situations())
def test_there_is_no_set_while_the_team_is_behind(situation: Situation) -> None:
    if situation.lead_s < situation.procedure.least_lead_s:
        assert best_set(situation) is None


@SETTINGS
@given(situation=situations())
def test_only_these_tasks_are_these_tasks_or_nothing(situation: Situation) -> None:
    best = best_set(situation)
    if best is not None:
        again = best_set(situation, [each for each, _ in best.work])
        assert again is not None
        assert merit(again) == merit(best)
    for pair in combinations(optional(situation)[:3], 2):
        found = best_set(situation, [each.id for each in pair])
        if found is not None:
            assert {each for each, _ in found.work} == {each.id for each in pair}
            sound(situation, found)


# One by one


def _outing(*extra: Task, finish_s: int | None = None) -> Procedure:
    """EV1 has 300 s to spare between out and work; the lamp may be put off."""
    return procedure(
        task("out", [100], who="EV1"),
        replace(task("lamp", [200], who="EV1", may_put_off=True), worth=1),
        task("work", [100], who="EV1", not_before_s=600),
        task("in", [100], who=("EV1", "EV2"), after=["work"]),
        *extra,
        close_out="in",
        finish_s=finish_s,
    )


def _item(name: TaskId, takes_s: int, after: tuple[TaskId, ...] = (), who: str = "EV1") -> Task:
    return task(name, [takes_s], who=who, after=after, get_ahead=True)


def _best(run: Run, now_s: int) -> tuple[tuple[TaskId, ...], int, int, int] | None:
    found = best_set(run.at(now_s))
    if found is None:
        return None
    return tuple(each for each, _ in found.work), found.worth, found.extra_s, found.lead_after_s


def test_work_that_was_put_off_comes_before_more_get_ahead_work() -> None:
    run = Run(_outing(_item("long", 390), _item("short", 200), _item("mid", 190)))
    run.order(PutOff("lamp", "late"), 0)
    run.mark(out_1=100)
    # 500 s are free: the lamp with 200 s of items; without it, 580 s of items would fit neither.
    assert _best(run, 100) == (("lamp", "short"), 1, 200, 0)


def test_an_item_comes_with_what_it_waits_for_and_after_it() -> None:
    run = Run(_outing(_item("second", 100, ("first",)), _item("first", 100)))
    run.order(PutOff("lamp", "late"), 0)
    run.mark(out_1=100)
    assert _best(run, 100) == (("lamp", "first", "second"), 1, 200, 0)
    assert best_set(run.at(100), ["second", "lamp"]) is None


def test_one_item_alone_is_no_set() -> None:
    run = Run(_outing(_item("only", 100))).mark(out_1=100)
    assert _best(run, 100) is None


def test_a_set_taken_as_one_order_is_the_set_that_was_offered() -> None:
    run = Run(_outing(_item("one", 100), _item("two", 100))).mark(out_1=100, lamp_1=300)
    found = best_set(run.at(300))
    assert found is not None
    events = run.order(TakeSet(tuple(each for each, _ in found.work)), 300)
    assert events == found.events
    assert (run.at(300).lead_s, run.at(300).projection.end_s) == (found.lead_after_s, found.finish_after_s)


def test_what_one_item_of_the_set_pushes_past_the_limit_is_not_in_the_set() -> None:
    """ARM is not of close-out: only the item's own end tells that two are too much."""
    run = Run(_outing(_item("one", 500, who="ARM"), _item("two", 500, who="ARM"), finish_s=900))
    assert run.at(0).lead_s == 0
    assert _best(run, 0) is None


def test_put_off_work_that_is_taken_piece_by_piece_stays_where_it_was_put() -> None:
    made = procedure(
        task("out", [100], who="EV1"),
        replace(task("survey", [100], who="EV1", may_put_off=True), worth=2),
        replace(task("lamp", [100], who="EV1", after=["survey"], may_put_off=True), worth=2),
        task("work", [100], who="EV1", not_before_s=900),
        task("in", [100], who="EV1"),
        close_out="in",
    )
    run = Run(made)
    run.order(PutOff("survey", "late"), 0)
    run.mark(out_1=100)
    first = suppose(run.at(100), [WorkTaken("survey", (("EV1", "in"),))])
    assert first.lists["EV1"] == ("out", "lamp", "work", "survey", "in")
    both = suppose(first, [WorkTaken("lamp", (("EV1", "in"),))])
    assert both.lists["EV1"] == ("out", "work", "survey", "lamp", "in")
    assert both.projection.end_s == 1300


def test_an_item_may_come_before_one_that_is_taken_with_it_and_could_start_at_once() -> None:
    """The first in the file is long; before the short one that ARM waits for, it would cost lead."""
    made = procedure(
        task("out", [100], who="EV1"),
        task("far", [400], who="EV2"),
        task("in", [100], who="EV2", not_before_s=500),
        _item("long", 300),
        task("short", [step(50, who="EV1"), step(400, who="ARM")], get_ahead=True),
        close_out="in",
        finish_s=600,
    )
    found = best_set(Run(made).mark(out_1=100).at(100))
    assert found is not None
    assert found.work == (("long", (("EV1", None),)), ("short", (("EV1", "long"), ("ARM", None))))


def test_a_set_is_not_called_exact_when_items_were_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    run = Run(_outing(_item("one", 100), _item("two", 100), _item("three", 10))).mark(out_1=100, lamp_1=300)
    whole = best_set(run.at(300))
    monkeypatch.setattr(best_set_module, "MOST_ITEMS", 2)
    less = best_set(run.at(300))
    assert whole is not None
    assert less is not None
    assert (whole.exact, whole.extra_s, less.exact, less.extra_s) == (True, 210, False, 200)


def test_a_set_is_not_called_exact_when_places_of_a_joint_item_were_left_out() -> None:
    """EV1 has so many places that not all are tried with each of EV2's."""
    many = [task(f"t{number}", [1], who="EV1") for number in range(30)]
    both = task("both", [5], who=("EV1", "EV2"), get_ahead=True)
    made = procedure(*many, task("long", [900], who="ARM"), both, task("own", [5], who="ARM", get_ahead=True))
    run = Run(procedure(*made.tasks[:-1], task("own", [5], who="EV2", get_ahead=True)))
    assert len(gaps(run.at(0), "EV1")) > 20
    found = best_set(run.at(0))
    assert found is not None
    assert not found.exact


def test_more_items_than_are_combined_leave_a_set_of_the_first() -> None:
    run = Run(_outing(*(_item(f"g{number}", 10) for number in range(9)))).mark(out_1=100, lamp_1=300)
    found = best_set(run.at(300))
    assert found is not None
    assert {each for each, _ in found.work} == {f"g{number}" for number in range(best_set_module.MOST_ITEMS)}
    run.order(TakeWork("g8"), 300)
