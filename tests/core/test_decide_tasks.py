"""Orders about tasks: putting off and back, taking and giving back, and each refusal with its code."""

import pytest

from app.core.commands import (
    Command,
    EndRun,
    GiveBackWork,
    GiveGo,
    MarkStep,
    PutBack,
    PutOff,
    RecordStart,
    Refusal,
    ReopenStep,
    TakeWork,
    UndoMark,
)
from app.core.events import (
    TaskPutBack,
    TasksPutOff,
    WorkGivenBack,
    WorkTaken,
)
from app.core.procedure import Procedure
from tests.core.building import procedure, task
from tests.core.ordering import MADE, expect_refusal
from tests.core.running import Run

# Putting off


def test_putting_off_takes_along_what_depends_on_it_but_never_close_out() -> None:
    run = Run(MADE)
    assert run.order(PutOff("survey", "late"), 10) == (TasksPutOff(("survey", "lamp"), "late"),)
    expect_refusal(run, MarkStep("lamp/1"), 20, "put-off", "put it back first")
    expect_refusal(run, PutOff("lamp", "late"), 20, "put-off", "put off already")


def test_what_was_put_off_before_is_not_put_off_twice() -> None:
    run = Run(MADE)
    run.order(PutOff("lamp", "first"), 10)
    assert run.order(PutOff("survey", "then"), 20) == (TasksPutOff(("survey",), "then"),)
    assert run.state.put_off == {"lamp": "first", "survey": "then"}


@pytest.mark.parametrize(
    ("name", "code", "word"),
    [
        ("a", "must-be-done", "may not be put off"),
        ("early", "must-be-done", "late must be done and waits for it"),
        ("come-in", "must-be-done", "may not be put off"),
        ("nothing", "unknown", "no task nothing"),
    ],
)
def test_what_must_be_done_cannot_be_put_off(name: str, code: str, word: str) -> None:
    expect_refusal(Run(MADE), PutOff(name, "late"), 10, code, word)


def test_putting_off_needs_a_reason_and_work_not_yet_begun() -> None:
    run = Run(MADE)
    expect_refusal(run, PutOff("survey", " "), 10, "no-reason", "“Task survey”")
    run.mark(a_1=100, b_1=150)
    run.order(RecordStart("survey/1"), 150)
    expect_refusal(run, PutOff("survey", "late"), 160, "begun", "survey was begun")


def test_work_begun_out_of_turn_stands_against_putting_off_what_it_depends_on() -> None:
    run = Run(MADE)
    run.order(MarkStep("lamp/1", ordered_because="it was open"), 50)
    expect_refusal(run, PutOff("survey", "late"), 60, "begun", "lamp was begun")


def test_putting_back_takes_a_reason_and_what_it_waits_for_goes_first() -> None:
    run = Run(MADE)
    run.order(PutOff("survey", "late"), 10)
    expect_refusal(run, PutBack("lamp", "time won"), 20, "put-off", "“Task lamp” waits for “Task survey”")
    expect_refusal(run, PutBack("survey", " "), 20, "no-reason")
    assert run.order(PutBack("survey", "time won"), 20) == (TaskPutBack("survey", "time won"),)
    assert run.order(PutBack("lamp", "time won"), 20)
    expect_refusal(run, PutBack("lamp", "again"), 20, "not-put-off", "was not put off")
    assert run.at(20).lead_s == 0


# Taking work


def test_a_get_ahead_item_is_taken_at_its_best_place_and_given_back_until_begun() -> None:
    run = Run(MADE)
    expect_refusal(run, MarkStep("tray/1"), 100, "not-in-run", "take it first")
    expect_refusal(run, TakeWork("tray"), 100, "not-eligible", "not now, waits for EV1", "(a/1)")
    run.mark(a_1=100, b_1=180, a_2=200)
    expect_refusal(run, TakeWork("tray"), 200, "not-eligible", "ARM is at a hold (stop/1)")
    for person in ("EV1", "EV2"):
        run.order(GiveGo("stop/1", person), 205)
    run.mark(stop_1=205)
    assert run.order(TakeWork("tray"), 205) == (WorkTaken("tray", (("ARM", None),)),)
    expect_refusal(run, TakeWork("tray"), 206, "taken")
    assert run.order(GiveBackWork("tray"), 207) == (WorkGivenBack("tray"),)
    expect_refusal(run, GiveBackWork("tray"), 208, "not-taken")
    run.order(TakeWork("tray"), 209)
    expect_refusal(run, MarkStep("tray/1"), 212, "before-start", "came into the run at 00:03:29", at_s=206)
    run.order(RecordStart("tray/1"), 215)
    expect_refusal(run, GiveBackWork("tray"), 220, "begun")


def test_work_in_the_run_cannot_be_taken() -> None:
    expect_refusal(Run(MADE), TakeWork("survey"), 10, "in-run", "“Task survey” is in the run already")


def test_work_put_off_can_be_taken_when_there_is_time_and_is_put_off_again_when_given_back() -> None:
    made = procedure(
        task("a", [100], who="EV1"), task("s", [30], who="EV1", may_put_off=True), task("z", [500], who="EV2")
    )
    run = Run(made)
    run.order(PutOff("s", "late"), 10)
    assert run.order(TakeWork("s"), 20) == (WorkTaken("s", (("EV1", None),)),)
    assert run.state.put_off == {}
    run.order(GiveBackWork("s"), 30)
    assert run.state.put_off == {"s": "late"}


# A place that was found because something was done must not become a circle when that is taken back.

CROSSED: Procedure = procedure(
    task("wait", [30], who="EV1", not_before_s=500),
    task("first", [10], who="EV1"),
    task("z", [600], who="EV2"),
    task("extra", [60], who="EV1", after=["first"], get_ahead=True),
)


def _crossed() -> Run:
    run = Run(CROSSED).mark(first_1=20)
    assert run.order(TakeWork("extra"), 30) == (WorkTaken("extra", (("EV1", "wait"),)),)
    return run


def test_a_gap_before_open_work_is_found_for_an_item_whose_prerequisite_was_done_out_of_turn() -> None:
    assert _crossed().at(30).projection.times(CROSSED.steps.index(CROSSED.step("extra/1"))) == (30, 90)


@pytest.mark.parametrize("command", [UndoMark("first/1"), ReopenStep("first/1", "wrong step")])
def test_reopening_what_taken_work_stands_on_moves_that_work_behind_it(command: Command) -> None:
    run = _crossed()
    run.order(command, 40)
    later = run.at(40)
    assert later.lists["EV1"] == ("wait", "first", "extra")
    first, extra = (CROSSED.steps.index(CROSSED.step(step)) for step in ("first/1", "extra/1"))
    assert later.projection.times(extra)[0] == later.projection.times(first)[1]


def test_a_gap_is_found_before_what_should_have_come_before_a_step_that_was_ordered() -> None:
    made = procedure(
        task("x", [30], who="EV1", not_before_s=500),
        task("d", [10], who="EV2", after=["x"]),
        task("z", [600], who="EV2"),
        task("extra", [60], who="EV1", after=["d"], get_ahead=True),
    )
    run = Run(made)
    run.order(MarkStep("d/1", ordered_because="it was open already"), 20)
    assert run.order(TakeWork("extra"), 30) == (WorkTaken("extra", (("EV1", "x"),)),)
    assert run.at(30).lists["EV1"] == ("extra", "x")


def test_work_put_before_taken_work_stays_before_close_out_when_that_is_given_back() -> None:
    made = procedure(
        task("a", [100], who="EV1"),
        task("long", [900], who="EV2"),
        task("in", [100], who=("EV1", "EV2")),
        task("g", [50], who="EV1", get_ahead=True),
        task("h", [50], who="EV1", get_ahead=True),
        close_out="in",
    )
    run = Run(made)
    run.order(TakeWork("g"), 10)
    assert run.order(TakeWork("h"), 20) == (WorkTaken("h", (("EV1", "g"),)),)
    run.order(GiveBackWork("g"), 30)
    assert run.at(30).lists["EV1"] == ("a", "h", "in")


# What is ordered is ordered now; what is called may be heard late.


@pytest.mark.parametrize(
    "command",
    [
        UndoMark("a/1"),
        ReopenStep("a/1", "wrong step"),
        PutOff("late", "short of time"),
        TakeWork("extra"),
        EndRun("all in"),
    ],
)
def test_an_order_is_given_at_the_moment_it_is_entered(command: Command) -> None:
    made = procedure(
        task("a", [100], who="EV1"),
        task("late", [100], who="EV1", may_put_off=True),
        task("extra", [10], who="EV1", get_ahead=True),
    )
    run = Run(made).mark(a_1=90)
    with pytest.raises(Refusal) as refused:
        run.order(command, 100, at_s=95)
    assert refused.value.code == "not-late"
    assert run.order(command, 100)


def test_taken_work_can_not_have_started_before_it_was_taken() -> None:
    made = procedure(task("a", [100], who="EV1"), task("extra", [10], who="EV1", get_ahead=True))
    run = Run(made).mark(a_1=90)
    run.order(TakeWork("extra"), 100)
    with pytest.raises(Refusal) as refused:
        run.order(RecordStart("extra/1"), 110, at_s=99)
    assert refused.value.code == "before-start"
    assert run.order(RecordStart("extra/1"), 110, at_s=100)
