"""Steps added during a run: their place, what they do to the figures, what they are afterwards, each refusal."""

import pytest

from app.core.carry import at_head, carried_over
from app.core.choices import offers
from app.core.commands import (
    AddStep,
    EndRun,
    GiveBackWork,
    MarkStep,
    PutOff,
    RecordStart,
    ReopenStep,
    ReviseTakes,
    SetNotNeeded,
    SwapTasks,
    TakeWork,
    UndoMark,
)
from app.core.events import StepAdded
from app.core.fold import fold
from app.core.report import situation_report
from app.core.situation import Prepared, Situation, StepState
from app.core.words import sentence
from tests.core.building import procedure, task
from tests.core.ordering import expect_refusal
from tests.core.running import Run
from tests.core.test_replan import MADE

Link = tuple[str, int | None]


def add(
    who: tuple[str, ...] = ("EV1",),
    takes_s: int = 30,
    before: str | None = None,
    after: tuple[Link, ...] = (),
    do: str = "Look at the seal",
    reason: str = "asked",
) -> AddStep:
    return AddStep(do, who, takes_s, before, after, reason)


def test_an_added_step_comes_right_after_what_was_begun() -> None:
    run = Run(MADE)
    (event,) = run.order(add(do="  Look at\n the seal "), 10)
    assert event == StepAdded("added-1", "Look at the seal", ("EV1",), 30, (), (("EV1", "lift"),), "asked")
    assert run.at(10).lists["EV1"] == ("open", "added-1", "lift", "bolt", "tie", "help", "in")
    (other,) = run.order(add(who=("EV2", "EV1"), after=(("open", 1), ("wire", None))), 20)
    assert isinstance(other, StepAdded)
    assert (other.task, other.places) == ("added-2", (("EV2", "help"), ("EV1", "added-1")))


def test_it_counts_for_the_finish_but_is_not_in_the_plan() -> None:
    run = Run(MADE)
    run.order(add(takes_s=40), 10)
    now = run.at(10)
    number = now.network.index["added-1/1"]
    assert (now.plan.end_s, now.projection.end_s, now.lead_s) == (550, 590, -40)
    assert now.projection.times(number) == (100, 140)
    assert (now.network.nominal[number], now.network.counted[number]) == (False, True)
    assert now.plan.finish_s[number] is None
    assert now.prepared.late.finish_s[:number] == run.prepared.late.finish_s
    assert [each["id"] for each in situation_report(now)["steps"]][-1] == "added-1/1"
    assert "added-1" not in [each.task for each in offers(now)]


def test_an_added_step_at_the_end_alone_moves_the_finish() -> None:
    run = Run(procedure(task("a", [100], who="EV1"), crew=("EV1", "EV2")))
    run.order(add(who=("EV2",), takes_s=300), 10)
    assert run.at(10).projection.end_s == 310
    assert run.at(10).person("EV2").lead_s == 0


def test_it_stands_before_the_named_task_for_everyone_who_has_that() -> None:
    run = Run(MADE)
    (event,) = run.order(add(who=("EV1", "EV2"), before="help"), 10)
    assert isinstance(event, StepAdded)
    assert event.places == (("EV1", "help"), ("EV2", "help"))
    run.order(add(who=("EV1", "EV2"), before="tie"), 10)
    assert run.at(10).lists["EV1"] == ("open", "lift", "bolt", "added-2", "tie", "added-1", "help", "in")
    assert run.at(10).lists["EV2"] == ("wire", "added-2", "added-1", "help", "in")


def test_before_close_out_is_the_last_place() -> None:
    run = Run(MADE)
    run.order(add(before="in"), 10)
    assert run.at(10).lists["EV1"][-2:] == ("added-1", "in")


def test_with_nothing_left_it_comes_to_the_end() -> None:
    run = Run(procedure(task("a", [100], who="EV1"))).mark(a_1=50)
    (event,) = run.order(add(), 60)
    assert isinstance(event, StepAdded)
    assert event.places == (("EV1", None),)
    assert run.step_state("added-1/1", 60) is StepState.UNDER_WAY


def test_it_waits_for_what_it_was_said_to_wait_for() -> None:
    run = Run(MADE)
    run.order(add(before="help", after=(("wire", None),)), 10)
    now = run.at(10)
    assert now.open_before(now.network.index["added-1/1"]) == [now.network.index["wire/1"]]
    expect_refusal(run, MarkStep("added-1/1"), 20, "open-prerequisite", "wire/1")


def test_it_is_marked_started_undone_reopened_and_not_needed_like_any_other() -> None:
    run = Run(MADE)
    run.order(add(), 10)
    run.order(RecordStart("added-1/1"), 20)
    run.order(MarkStep("added-1/1"), 30)
    assert run.step_state("added-1/1", 30) is StepState.DONE
    run.order(UndoMark("added-1/1"), 35)
    run.order(SetNotNeeded("added-1/1", "seen"), 40)
    assert run.at(40).lead_s == 0
    run.order(ReopenStep("added-1/1", "not seen"), 50)
    run.order(ReviseTakes("added-1/1", 90, "long"), 60)
    assert run.at(60).projection.end_s == 550 + 10


def test_it_cannot_be_done_or_begun_before_it_was_added() -> None:
    run = Run(MADE)
    run.order(add(), 50)
    expect_refusal(run, MarkStep("added-1/1"), 60, "before-start", "came into the run at 00:00:50", at_s=40)
    expect_refusal(run, RecordStart("added-1/1"), 60, "before-start", at_s=40)
    assert run.at(60).facts.floor_s == {len(MADE.steps): 50}


def test_it_can_be_put_in_a_new_order_and_another_step_can_stand_before_and_after_it() -> None:
    run = Run(MADE)
    run.order(add(), 10)
    run.order(SwapTasks("EV1", "added-1", "bolt", "wish"), 20)
    run.order(add(before="added-1", after=(("lift", 2),)), 30)
    run.order(add(before="tie", after=(("added-1", None),)), 40)
    assert run.at(40).lists["EV1"] == ("open", "bolt", "lift", "added-2", "added-1", "added-3", "tie", "help", "in")


def test_step_numbers_of_the_file_stay_as_they_are_and_the_past_does_not_know_it() -> None:
    run = Run(MADE)
    run.order(add(), 50)
    now = run.at(50)
    assert now.network.steps[: len(MADE.steps)] == MADE.steps
    before = Situation(run.prepared, fold(run.log, until_s=40), 40)
    assert before.prepared is run.prepared
    assert len(before.network.steps) == len(MADE.steps)


def test_the_amended_revision_is_made_once_and_from_the_base() -> None:
    run = Run(MADE)
    run.order(add(), 10)
    first, again = run.at(10), run.at(20)
    assert first.prepared is again.prepared
    assert Situation(first.prepared, first.state, 30).prepared is first.prepared
    assert first.prepared.base is run.prepared
    assert first.prepared.amended(()) is run.prepared


def test_it_is_owed_when_the_run_ends_and_is_ordinary_work_in_the_next() -> None:
    run = Run(MADE)
    run.order(add(after=(("open", None),)), 10)
    run.order(EndRun("rain"), 20)
    now = run.at(20)
    (owed,) = [each for each in carried_over(now.procedure, now.state) if each.id == "added-1"]
    assert owed.added is False
    following = at_head((owed,), procedure(task("more", [60], who="EV1"), crew=("EV1",)))
    assert [each.id for each in following.tasks] == ["added-1", "more"]


def test_an_id_that_exists_is_passed_over() -> None:
    run = Run(procedure(task("added-1", [100], who="EV1"), task("b", [100], who="EV1")))
    (event,) = run.order(add(), 10)
    assert isinstance(event, StepAdded)
    assert event.task == "added-2"


def test_work_that_an_added_step_waits_for_stays() -> None:
    run = Run(MADE)
    run.order(TakeWork("sweep"), 10)
    run.order(add(who=("EV2",), before="help", after=(("sweep", None),)), 20)
    expect_refusal(run, GiveBackWork("sweep"), 30, "waited-for", "Look at the seal waits for it")
    run.order(SetNotNeeded("added-1/1", "seen"), 40)
    run.order(GiveBackWork("sweep"), 50)
    assert run.at(50).lists["EV2"] == ("wire", "added-1", "help", "in")


def test_the_log_says_what_was_added_where_and_why() -> None:
    run = Run(MADE)
    (event,) = run.order(add(who=("EV1", "EV2"), before="tie", after=(("wire", None), ("open", 1))), 10)
    assert sentence(event, run.at(10).procedure) == (
        "Added: “Look at the seal” (added-1/1), 30s, EV1 before “Task tie”; EV2 before “Task help”; "
        "after “Task wire”; after “Do open 1” (open/1). asked"
    )


@pytest.mark.parametrize(
    ("command", "code", "words"),
    [
        (add(do=" \n "), "incomplete", "what is to be done"),
        (add(do="x" * 301), "too-long", "300 characters"),
        (add(who=()), "incomplete", "who does"),
        (add(who=("EV9",)), "unknown", "called EV9"),
        (add(who=("EV1", "EV1")), "twice", "named twice"),
        (add(takes_s=0), "bad-time", "at least 1s"),
        (add(takes_s=-5), "bad-time", "at least 1s"),
        (add(takes_s=99 * 3600 + 1), "bad-time", "99 hours"),
        (add(after=(("nothing", None),)), "unknown", "no task nothing"),
        (add(after=(("lift", 3),)), "unknown", "no step lift/3"),
        (add(after=(("sweep", None),)), "not-in-run", "not taken"),
        (add(before="open"), "no-place", "EV1 has no open task open"),
        (add(before="wire"), "no-place", "EV1 has no open task wire"),
        (add(before="nothing"), "no-place", "no open task nothing"),
        (add(before="bolt"), "no-place", "no open task bolt"),
        (add(after=(("tie", None),)), "circle", "waits for"),
        (add(reason=""), "no-reason", "why the step is added"),
    ],
)
def test_a_step_that_cannot_be_added_is_refused(command: AddStep, code: str, words: str) -> None:
    run = Run(MADE).mark(open_1=100)
    run.order(PutOff("bolt", "late"), 100)
    expect_refusal(run, command, 110, code, words)


def test_the_circle_is_named_with_the_step_that_was_to_be_added() -> None:
    refusal = expect_refusal(Run(MADE), add(after=(("tie", None),)), 10, "circle")
    assert "“Look at the seal” (added-1/1)" in str(refusal)


def test_nothing_is_added_after_close_out() -> None:
    made = procedure(task("a", [50], who="EV1"), task("in", [50], who="EV1"), task("z", [5], who="EV1"), close_out="in")
    expect_refusal(Run(made), add(before="z"), 10, "no-place")
    run = Run(made).mark(a_1=50)
    expect_refusal(run, add(), 60, "no-place", "begun close-out")


def test_a_finished_amendment_changes_nothing_for_other_runs_of_the_revision() -> None:
    prepared = Prepared(MADE)
    one, other = Run(MADE), Run(MADE)
    one.prepared = other.prepared = prepared
    one.order(add(do="One"), 10)
    other.order(add(do="Other"), 10)
    assert one.at(20).procedure.task("added-1").title == "One"
    assert other.at(20).procedure.task("added-1").title == "Other"
