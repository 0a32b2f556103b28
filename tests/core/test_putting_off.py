"""The options against all choices tried one by one, each as a run in which those tasks really are put off."""

from dataclasses import replace
from typing import Literal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.core.choices import goes_with
from app.core.commands import MarkStep, PutOff, RecordStart, ReviseTakes
from app.core.procedure import Procedure, TaskId
from app.core.putting_off import Option, Options, candidates, options
from app.core.situation import Prepared, Situation
from app.core.state import EMPTY
from tests.core.building import procedure, task
from tests.core.choices_by_force import every_choice, figures, front_of, longest_s, may_go, put_off, worth_of
from tests.core.guesses_late import late_procedures, late_situations
from tests.core.running import Run

SETTINGS = settings(
    max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)


@SETTINGS
@given(situation=late_situations())
def test_the_options_are_the_choices_that_no_other_one_beats(situation: Situation) -> None:
    every, found = every_choice(situation), options(situation)
    assert found.exact
    assert found.of == len(may_go(situation))
    assert [(each.worth, each.finish_s) for each in found.options] == front_of(situation, every)
    for each in found.options:
        then = every[frozenset(each.tasks)]
        assert (each.worth, each.finish_s) == (
            worth_of(situation.procedure, frozenset(each.tasks)),
            then.projection.end_s,
        )


@SETTINGS
@given(situation=late_situations())
def test_each_option_says_what_the_run_without_it_says(situation: Situation) -> None:
    made, every = situation.procedure, every_choice(situation)
    for each in options(situation).options:
        then = every[frozenset(each.tasks)]
        limit = made.limits.finish_s
        assert each.wins_s == situation.projection.end_s - then.projection.end_s > 0
        assert (each.lead_s, each.room_s) == (then.lead_s, then.room_s)
        assert each.meets_plan == (then.projection.end_s <= situation.plan.end_s)
        assert each.meets_limit == (limit is None or then.projection.end_s <= limit)
        assert list(each.tasks) == [other.id for other in made.tasks if other.id in each.tasks]
        assert set(each.along) == {
            other for other in each.tasks for one in each.tasks if other != one and other in goes_with(made, one)[0]
        }
        assert "in" not in each.tasks


@SETTINGS
@given(situation=late_situations())
@pytest.mark.parametrize("aim", ["plan", "limit"])
def test_the_least_that_meets_an_aim_is_the_least_of_all_choices(
    aim: Literal["plan", "limit"], situation: Situation
) -> None:
    limit = situation.plan.end_s if aim == "plan" else situation.procedure.limits.finish_s
    meeting = [
        (worth_of(situation.procedure, each), then.projection.end_s)
        for each, then in every_choice(situation).items()
        if then.projection.end_s < situation.projection.end_s and (limit is None or then.projection.end_s <= limit)
    ]
    least = options(situation).least(aim)
    assert (None if least is None else (least.worth, least.finish_s)) == min(meeting, default=None)


@SETTINGS
@given(situation=late_situations(), data=st.data())
def test_putting_off_more_never_makes_the_finish_later(situation: Situation, data: st.DataObject) -> None:
    closures = may_go(situation)
    if not closures:
        return
    some = data.draw(st.lists(st.sampled_from(list(closures)), max_size=4))
    more = data.draw(st.lists(st.sampled_from(list(closures)), min_size=1, max_size=4))
    few = frozenset(other for each in some for other in closures[each])
    many = few.union(*(closures[each] for each in more))
    first = situation if not few else put_off(situation, few)
    assert put_off(situation, many).projection.end_s <= first.projection.end_s <= situation.projection.end_s


# One by one


def _late() -> Run:
    """EV1 must be out and in; the survey and what waits for it may be put off, and so may the photo."""
    run = Run(
        procedure(
            task("out", [100], who="EV1"),
            replace(task("survey", [200], who="EV1", may_put_off=True), worth=5),
            replace(task("lamp", [50], who="EV1", after=["survey"], may_put_off=True), worth=2),
            replace(task("photo", [100], who="EV1", may_put_off=True), worth=3),
            task("must", [10], who="EV2"),
            task("in", [100], who=("EV1", "EV2"), after=["lamp", "photo", "must"]),
            close_out="in",
            finish_s=600,
        )
    )
    run.mark(out_1=250, must_1=250)
    return run


def test_what_depends_goes_along_and_is_named() -> None:
    found = options(_late().at(250))
    assert [(each.tasks, each.along, each.worth, each.wins_s) for each in found.options] == [
        (("lamp",), (), 2, 50),
        (("photo",), (), 3, 100),
        (("lamp", "photo"), (), 5, 150),
        (("survey", "lamp"), ("lamp",), 7, 250),
        (("survey", "lamp", "photo"), ("lamp",), 10, 350),
    ]
    assert [(each.meets_plan, each.meets_limit, each.room_s) for each in found.options] == [
        (False, False, -50),
        (False, True, 0),
        (True, True, 50),
        (True, True, 150),
        (True, True, 250),
    ]


def test_the_least_for_the_plan_and_the_least_for_the_limit_differ() -> None:
    found = options(_late().at(250))
    assert _tasks(found.least("limit")) == ("photo",)
    assert _tasks(found.least("plan")) == ("lamp", "photo")


def _tasks(option: Option | None) -> tuple[TaskId, ...]:
    return () if option is None else option.tasks


def test_a_task_that_is_begun_is_not_among_them() -> None:
    run = _late()
    run.order(RecordStart("survey/1"), 260)
    assert set(candidates(run.at(260))) == {"lamp", "photo"}


def test_a_task_is_not_among_them_while_one_that_would_go_along_is_begun() -> None:
    run = _late()
    run.order(MarkStep("lamp/1", ordered_because="the lead says so"), 260)
    assert set(candidates(run.at(260))) == {"photo"}


def test_what_a_task_put_off_waited_for_may_be_put_off_with_it() -> None:
    """The photo is held by its own earliest start; without it, close-out waits for the survey."""
    made = procedure(
        replace(task("survey", [100], who="EV2", may_put_off=True), worth=4),
        replace(task("photo", [10], who="EV1", after=["survey"], not_before_s=500, may_put_off=True), worth=1),
        task("in", [10], who="EV1", after=["photo"]),
        close_out="in",
    )
    assert figures(options(Run(made).at(0))) == [(1, 110), (5, 10)]


def test_a_step_that_was_started_early_does_not_hide_the_one_that_it_overtook() -> None:
    made = procedure(
        replace(task("slow", [300], who="EV1", may_put_off=True), worth=2),
        task("quick", [50], who="EV1"),
        task("in", [10], who="EV1"),
    )
    run = Run(made)
    run.order(RecordStart("quick/1"), 0)
    assert figures(options(run.at(10))) == [(2, 60)]


def test_a_task_that_must_be_done_keeps_what_it_waits_for() -> None:
    made = procedure(
        task("early", [100], who="EV1", may_put_off=True),
        task("must", [100], who="EV1", after=["early"]),
        task("lamp", [100], who="EV1", after=["must"], may_put_off=True),
    )
    found = options(Run(made).at(0))
    assert [each.tasks for each in found.options] == [("lamp",)]


def test_close_out_never_goes_along() -> None:
    made = procedure(
        task("lamp", [100], who="EV1", may_put_off=True),
        task("in", [100], who="EV1", after=["lamp"]),
        close_out="in",
    )
    (option,) = options(Run(made).at(0)).options
    assert (option.tasks, option.finish_s, option.room_s, option.meets_limit) == (("lamp",), 100, None, True)


def test_where_nothing_can_be_won_there_are_no_options() -> None:
    idle = procedure(task("lamp", [100], who="EV1", may_put_off=True), task("long", [500], who="EV2"))
    assert options(Run(idle).at(0)) == Options((), True, 1)
    assert options(Run(procedure(task("long", [500], who="EV2"))).at(0)) == Options((), True, 0)
    assert options(Run(idle).at(0)).least("plan") is None


def test_what_is_put_off_already_is_not_put_off_again() -> None:
    run = _late()
    run.order(PutOff("lamp", "late"), 250)
    found = options(run.at(250))
    assert found.of == 2
    assert [(each.tasks, each.along) for each in found.options] == [
        (("photo",), ()),
        (("survey",), ()),
        (("survey", "photo"), ()),
    ]


def test_options_count_on_a_revised_duration() -> None:
    run = _late()
    run.order(ReviseTakes("photo/1", 400, "broken camera"), 250)
    assert next(each.wins_s for each in options(run.at(250)).options if each.tasks == ("photo",)) == 400


@SETTINGS
@given(made=late_procedures(windows=False))
def test_the_finish_with_an_option_is_the_longest_path_without_its_tasks(made: Procedure) -> None:
    situation = Situation(Prepared(made), EMPTY, 0)
    assert situation.projection.end_s == longest_s(made, frozenset())
    for each in options(situation).options:
        assert each.finish_s == longest_s(made, frozenset(each.tasks))
