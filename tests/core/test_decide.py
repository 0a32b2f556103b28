"""Orders about steps and the run: what each does, and each refusal with its code and what is in the way."""

import pytest

from app.core.commands import (
    LONGEST_TEXT,
    AddNote,
    Command,
    EndRun,
    GiveBackWork,
    GiveGo,
    GiveNoGo,
    MarkStep,
    PutBack,
    PutOff,
    RecordStart,
    ReopenStep,
    SetNotNeeded,
    TakeWork,
    UndoMark,
)
from app.core.events import (
    GoGiven,
    NoGoGiven,
    NoteAdded,
    RunEnded,
    StartRecorded,
    StepMarked,
    StepNotNeeded,
    StepReopened,
)
from tests.core.building import procedure, step, task
from tests.core.ordering import MADE, expect_refusal
from tests.core.running import Run

# Marks


def test_a_mark_is_logged_at_its_second_which_may_be_earlier_than_now() -> None:
    run = Run(MADE)
    assert run.order(MarkStep("a/1"), 140, 95) == (StepMarked("a/1"),)
    assert run.state.done["a/1"].at_s == 95


def test_a_mark_in_the_future_is_refused() -> None:
    expect_refusal(Run(MADE), MarkStep("a/1"), 100, "future", "00:01:41 has not come yet", at_s=101)


def test_a_mark_before_the_run_began_is_refused() -> None:
    expect_refusal(Run(MADE), MarkStep("a/1"), 100, "too-early", at_s=-1)


def test_two_marks_of_one_step_are_refused_with_when_and_by_whom() -> None:
    expect_refusal(Run(MADE).mark(a_1=90), MarkStep("a/1"), 100, "already-done", "(a/1)", "00:01:30", "desk")


@pytest.mark.parametrize("command", [MarkStep("x/1"), UndoMark("x/1"), RecordStart("a/9"), AddNote("n", step="a/0")])
def test_a_step_that_is_not_there_is_refused(command: Command) -> None:
    expect_refusal(Run(MADE), command, 10, "unknown", "no step")


def test_a_mark_against_an_open_prerequisite_is_refused_with_its_name_and_may_be_ordered() -> None:
    refusal = expect_refusal(Run(MADE), MarkStep("b/1"), 10, "open-prerequisite", "EV1: “Do a 1” (a/1) is open")
    assert refusal.may_order


def test_each_open_step_of_a_task_that_is_waited_for_is_named() -> None:
    refusal = expect_refusal(Run(MADE), MarkStep("stop/1"), 10, "hold")
    assert not refusal.may_order
    run = Run(procedure(task("a", [1, 1], who="EV1"), task("b", [1], after=["a"])))
    expect_refusal(run, MarkStep("b/1"), 10, "open-prerequisite", "(a/1) is open", "(a/2) is open")


def test_the_leads_order_with_a_reason_passes_an_open_prerequisite_and_is_logged() -> None:
    run = Run(MADE)
    assert run.order(MarkStep("b/1", ordered_because=" by eye "), 10) == (StepMarked("b/1", (), "by eye"),)
    assert run.state.done["b/1"].ordered_because == "by eye"


def test_an_order_that_nothing_stands_against_is_an_ordinary_mark() -> None:
    assert Run(MADE).order(MarkStep("a/1", ordered_because="hurry"), 10) == (StepMarked("a/1"),)


def test_the_leads_order_needs_its_reason() -> None:
    expect_refusal(Run(MADE), MarkStep("b/1", ordered_because="  "), 10, "no-reason")


def test_a_mark_inside_a_wait_is_refused_until_the_wait_is_over() -> None:
    run = Run(MADE).mark(a_1=100)
    refusal = expect_refusal(run, MarkStep("b/1"), 129, "open-prerequisite", "the wait after EV1", "00:02:10")
    assert refusal.may_order
    assert run.order(MarkStep("b/1"), 130) == (StepMarked("b/1"),)


def test_a_late_heard_mark_before_its_prerequisite_was_done_is_refused() -> None:
    run = Run(MADE).mark(a_1=100)
    expect_refusal(run, MarkStep("a/2"), 200, "open-prerequisite", "(a/1) was done only at 00:01:40", at_s=90)


def test_a_mark_before_the_recorded_start_is_refused() -> None:
    run = Run(MADE)
    run.order(RecordStart("a/1"), 50)
    expect_refusal(run, MarkStep("a/1"), 60, "before-start", "00:00:50", at_s=49)


def test_values_are_recorded_with_the_mark() -> None:
    run = Run(MADE).mark(a_1=100)
    run.order(MarkStep("a/2", (("gap", 5.5),)), 200)
    assert run.state.done["a/2"].values == (("gap", 5.5),)


def test_a_value_that_the_step_does_not_record_or_that_is_no_number_is_refused() -> None:
    run = Run(MADE).mark(a_1=100)
    expect_refusal(run, MarkStep("a/2", (("width", 1.0),)), 200, "unknown-value", "“width”")
    expect_refusal(run, MarkStep("a/2", (("gap", float("inf")),)), 200, "not-a-number", "“gap”")


def test_marks_out_of_a_persons_own_order_are_accepted() -> None:
    made = procedure(task("a", [10], who="EV1"), task("b", [10], who="EV1"))
    assert Run(made).order(MarkStep("b/1"), 5) == (StepMarked("b/1"),)


# Undo and reopening


def test_the_last_mark_of_its_people_is_undone_without_a_reason() -> None:
    run = Run(MADE).mark(a_1=100)
    assert run.order(UndoMark("a/1"), 105) == (StepReopened("a/1", "undone", undone=True),)
    assert run.state.done == {}


def test_a_mark_of_somebody_else_does_not_end_undo_but_one_of_the_same_person_does() -> None:
    run = Run(MADE).mark(a_1=100, b_1=140)
    assert run.order(UndoMark("a/1"), 150)
    run.mark(a_1=150, a_2=200)
    expect_refusal(run, UndoMark("a/1"), 210, "not-last", "reopen it with a reason")


def test_the_last_mark_is_the_last_entered_not_the_latest_by_its_time() -> None:
    made = procedure(task("a", [10], who="EV1"), task("b", [10], who="EV1"))
    run = Run(made)
    run.order(MarkStep("a/1"), 90)
    run.order(MarkStep("b/1"), 95, 20)
    expect_refusal(run, UndoMark("a/1"), 100, "not-last")
    assert run.order(UndoMark("b/1"), 100)


def test_a_joint_step_can_be_undone_only_while_it_is_the_last_of_each_of_its_people() -> None:
    made = procedure(task("both", [10], who=("EV1", "EV2")), task("one", [10], who="EV2"))
    run = Run(made).mark(both_1=10, one_1=20)
    expect_refusal(run, UndoMark("both/1"), 30, "not-last")


def test_a_step_that_is_not_done_cannot_be_undone() -> None:
    expect_refusal(Run(MADE), UndoMark("a/1"), 10, "not-done", "(a/1)")


def test_reopening_takes_a_reason_and_works_for_marks_and_for_not_needed() -> None:
    run = Run(MADE).mark(a_1=100, a_2=200)
    expect_refusal(run, ReopenStep("a/1", " "), 210, "no-reason", "(a/1)")
    assert run.order(ReopenStep("a/1", "wrong step"), 210) == (StepReopened("a/1", "wrong step"),)
    run.order(SetNotNeeded("a/1", "cut"), 220)
    assert run.order(ReopenStep("a/1", "needed after all"), 230)
    expect_refusal(run, ReopenStep("a/1", "again"), 240, "not-done", "open already")


# Starts, notes, not needed


def test_a_start_is_recorded_and_may_be_corrected() -> None:
    run = Run(MADE)
    assert run.order(RecordStart("a/1"), 30, 20) == (StartRecorded("a/1"),)
    run.order(RecordStart("a/1"), 40, 25)
    assert run.state.started == {"a/1": 25}


def test_a_start_against_an_open_prerequisite_or_of_a_done_step_is_refused() -> None:
    run = Run(MADE)
    refusal = expect_refusal(run, RecordStart("b/1"), 10, "open-prerequisite", "can't start", "(a/1) is open")
    assert not refusal.may_order
    expect_refusal(run.mark(a_1=20), RecordStart("a/1"), 30, "already-done")


def test_notes_are_kept_for_the_run_a_step_or_a_person() -> None:
    run = Run(MADE)
    assert run.order(AddNote(" sparks ", "a/1", "EV1"), 10) == (NoteAdded("sparks", "a/1", "EV1"),)
    expect_refusal(run, AddNote("  "), 10, "no-reason", "Write the note first")
    expect_refusal(run, AddNote("hello", person="EV9"), 10, "unknown", "EV9")
    expect_refusal(run, AddNote("x" * (LONGEST_TEXT + 1)), 10, "too-long", "2,000")


def test_a_step_not_needed_has_its_reason_and_can_no_longer_be_marked() -> None:
    run = Run(MADE)
    expect_refusal(run, SetNotNeeded("a/1", ""), 10, "no-reason")
    assert run.order(SetNotNeeded("a/1", "done before"), 10) == (StepNotNeeded("a/1", "done before"),)
    expect_refusal(run, MarkStep("a/1"), 20, "not-needed", "reopen it first")
    expect_refusal(run, SetNotNeeded("a/1", "again"), 20, "not-needed")
    expect_refusal(run.mark(a_2=30), SetNotNeeded("a/2", "late"), 40, "already-done")


# Holds


def test_go_and_no_go_are_given_at_a_hold_that_is_reached() -> None:
    run = Run(MADE)
    expect_refusal(run, GiveGo("stop/1", "EV1"), 50, "open-prerequisite", "not reached", "(a/1) is open")
    run.mark(a_1=100, a_2=200)
    assert run.order(GiveGo("stop/1", "EV1"), 210) == (GoGiven("stop/1", "EV1"),)
    assert run.order(GiveNoGo("stop/1", "EV2", "glove"), 211) == (NoGoGiven("stop/1", "EV2", "glove"),)
    expect_refusal(run, MarkStep("stop/1"), 212, "hold", "no go yet from EV2.")
    run.order(GiveGo("stop/1", "EV2", "glove changed"), 213)
    assert run.order(MarkStep("stop/1"), 214)


def test_a_go_taken_back_by_a_no_go_holds_again() -> None:
    run = Run(MADE).mark(a_1=100, a_2=200)
    for command in (GiveGo("stop/1", "EV1"), GiveGo("stop/1", "EV2"), GiveNoGo("stop/1", "EV1", "wait")):
        run.order(command, 210)
    expect_refusal(run, MarkStep("stop/1"), 220, "hold", "EV1")


def test_a_no_go_needs_its_reason_and_nobody_else_is_asked() -> None:
    run = Run(MADE).mark(a_1=100, a_2=200)
    expect_refusal(run, GiveNoGo("stop/1", "EV1", " "), 210, "no-reason")
    expect_refusal(run, GiveGo("stop/1", "ARM"), 210, "not-asked", "ARM")
    expect_refusal(run, GiveGo("b/1", "EV2"), 210, "not-asked", "EV2")


# The end


def test_a_run_ends_with_a_reason_and_takes_nothing_more() -> None:
    run = Run(MADE).mark(a_1=100)
    expect_refusal(run, EndRun(""), 110, "no-reason")
    assert run.order(EndRun("all in"), 110) == (RunEnded("all in"),)
    commands: tuple[Command, ...] = (
        MarkStep("a/2"),
        UndoMark("a/1"),
        ReopenStep("a/1", "r"),
        RecordStart("a/2"),
        AddNote("n"),
        GiveGo("stop/1", "EV1"),
        GiveNoGo("stop/1", "EV1", "r"),
        SetNotNeeded("a/2", "r"),
        PutOff("survey", "r"),
        PutBack("survey", "r"),
        TakeWork("tray"),
        GiveBackWork("tray"),
        EndRun("r"),
    )
    for command in commands:
        expect_refusal(run, command, 120, "ended", "00:01:50")


# A hold is never overruled.

APPROACH = procedure(
    task("ap", steps=[step(60), step(60, go=("EV1", "EV2")), step(60), step(60)], who="ARM"),
    task("stow", [60], who="ARM", after=["ap"]),
    crew=("EV1", "EV2", "ARM"),
)


def _at_the_hold() -> Run:
    run = Run(APPROACH).mark(ap_1=100)
    run.order(GiveGo("ap/2", "EV1"), 200)
    return run


def test_a_hold_is_not_complete_before_the_last_go() -> None:
    run = _at_the_hold()
    run.order(GiveGo("ap/2", "EV2"), 250)
    expect_refusal(run, MarkStep("ap/2"), 300, "hold", "EV2 was go only at 00:04:10", at_s=249)
    assert run.order(MarkStep("ap/2"), 300, at_s=250)


def test_a_go_from_before_the_hold_was_reached_is_refused() -> None:
    run = Run(APPROACH).mark(ap_1=100)
    expect_refusal(run, GiveGo("ap/2", "EV1"), 200, "open-prerequisite", "was done only at", at_s=99)


@pytest.mark.parametrize("beyond", ["ap/3", "ap/4", "stow/1"])
def test_no_order_of_the_lead_passes_a_hold_that_is_not_go(beyond: str) -> None:
    run = _at_the_hold()
    run.order(GiveNoGo("ap/2", "EV2", "drift"), 210)
    refusal = expect_refusal(run, MarkStep(beyond, ordered_because="we go on"), 300, "hold", "ap/2", "EV2")
    assert not refusal.may_order


def test_a_hold_that_is_not_go_can_not_be_set_not_needed() -> None:
    run = _at_the_hold()
    expect_refusal(run, SetNotNeeded("ap/2", "skip it"), 300, "hold", "can't be left out", "EV2")
    run.order(GiveGo("ap/2", "EV2"), 310)
    assert run.order(SetNotNeeded("ap/2", "no longer an approach"), 320)
