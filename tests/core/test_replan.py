"""Revised durations and new orders of work: what they do to a run, and each refusal with its code."""

import pytest

from app.core.commands import (
    AddStep,
    GiveBackWork,
    MarkStep,
    PutOff,
    ReopenStep,
    ReorderTasks,
    ReviseTakes,
    SetNotNeeded,
    SwapTasks,
    TakeWork,
    UndoMark,
)
from app.core.events import TakesRevised, TasksReordered
from app.core.words import sentence
from tests.core.building import procedure, task
from tests.core.ordering import expect_refusal
from tests.core.running import Run

MADE = procedure(
    task("open", [100], who="EV1"),
    task("lift", [100, 100], who="EV1"),
    task("bolt", [50], who="EV1", may_put_off=True),
    task("tie", [40], who="EV1", after=["lift"]),
    task("wire", [300], who="EV2"),
    task("help", [60], who=("EV1", "EV2")),
    task("sweep", [30], who="EV2", get_ahead=True),
    task("in", [100], who=("EV1", "EV2")),
    close_out="in",
)
"""EV1: open, lift, bolt, tie, help, in. EV2: wire, help, in. Plan: help at 390, in from 450 to 550."""
MADE_ORDER = ("open", "lift", "bolt", "tie", "help", "in")


def names(run: Run, person: str = "EV1") -> tuple[str, ...]:
    return run.at(run.now_s).lists[person]


# Durations


def test_a_revised_duration_moves_the_projection_and_not_the_plan() -> None:
    run = Run(MADE)
    events = run.order(ReviseTakes("lift/2", 160, " ice "), 10)
    assert events == (TakesRevised("lift/2", 160, "ice"),)
    now = run.at(10)
    assert (now.plan.end_s, now.projection.end_s, now.lead_s) == (550, 610, -60)
    number = now.network.index["lift/2"]
    assert (now.network.takes_s[number], now.prepared.network.takes_s[number]) == (160, 100)
    assert sentence(events[0], now.procedure) == "Takes 2m 40s, plan 1m 40s: “Do lift 2” (lift/2). ice"


def test_the_last_revision_counts_and_outlives_a_mark_that_is_undone() -> None:
    run = Run(MADE)
    run.order(ReviseTakes("open/1", 200, "ice"), 10)
    run.order(ReviseTakes("open/1", 150, "less ice"), 20)
    run.order(MarkStep("open/1"), 90)
    run.order(UndoMark("open/1"), 95)
    assert run.at(95).projection.finish_s[0] == 150


def test_a_step_under_way_that_takes_no_time_any_more_ends_now() -> None:
    run = Run(MADE)
    run.order(ReviseTakes("open/1", 0, "it was open"), 10)
    assert run.at(30).projection.finish_s[0] == 30


@pytest.mark.parametrize(
    ("step", "takes_s", "reason", "code", "words"),
    [
        ("nothing/1", 10, "ice", "unknown", "no step nothing/1"),
        ("open/1", 10, "ice", "already-done", "already done"),
        ("sweep/1", 10, "ice", "not-in-run", "not taken"),
        ("bolt/1", 10, "ice", "put-off", "put off"),
        ("tie/1", 10, "ice", "not-needed", "reopen it first"),
        ("lift/1", -1, "ice", "bad-time", "below nothing"),
        ("lift/1", 99 * 3600 + 1, "ice", "bad-time", "99 hours"),
        ("lift/1", 100, "ice", "unchanged", "1m 40s now"),
        ("lift/1", 10, " ", "no-reason", "Say why"),
    ],
)
def test_a_duration_that_cannot_be_revised_is_refused(
    step: str, takes_s: int, reason: str, code: str, words: str
) -> None:
    run = Run(MADE)
    run.mark(open_1=100)
    run.order(PutOff("bolt", "late"), 100)
    run.order(SetNotNeeded("tie/1", "tied"), 100)
    expect_refusal(run, ReviseTakes(step, takes_s, reason), 110, code, words)


def test_the_longest_duration_is_taken() -> None:
    run = Run(MADE)
    run.order(ReviseTakes("lift/1", 99 * 3600, "stuck"), 10)
    assert run.at(10).projection.end_s == 550 - 100 + 99 * 3600


# Order


def test_a_new_order_fills_the_places_that_its_tasks_hold() -> None:
    run = Run(MADE)
    events = run.order(ReorderTasks("EV1", ("help", "bolt"), " EV2 is free "), 10)
    assert events == (TasksReordered("EV1", ("help", "bolt"), "EV2 is free"),)
    assert names(run) == ("open", "lift", "help", "tie", "bolt", "in")
    assert names(run, "EV2") == ("wire", "help", "in")
    assert run.at(10).projection.finish_s[run.prepared.network.index["bolt/1"]] == 450
    assert sentence(events[0], MADE) == "New order for EV1: “Task help”, “Task bolt”. EV2 is free"


def test_two_tasks_change_places_whichever_is_named_first() -> None:
    for first, second in (("bolt", "tie"), ("tie", "bolt")):
        run = Run(MADE)
        assert run.order(SwapTasks("EV1", first, second, "rope"), 10) == (
            TasksReordered("EV1", ("tie", "bolt"), "rope"),
        )
        assert names(run) == ("open", "lift", "tie", "bolt", "help", "in")


def test_swapping_twice_restores_the_order_and_the_log_keeps_both() -> None:
    run = Run(MADE)
    for second in (10, 20):
        run.order(SwapTasks("EV1", "bolt", "tie", "rope"), second)
    assert names(run) == MADE_ORDER
    assert len(run.state.reordered) == 2


def test_a_new_order_changes_the_lead_but_not_the_plan() -> None:
    run = Run(MADE)
    run.order(ReorderTasks("EV1", ("help", "bolt", "tie"), "EV2 is free"), 10)
    now = run.at(10)
    assert (now.plan.end_s, now.projection.end_s) == (550, 550)
    assert now.person("EV2").lead_s == 0
    assert now.projection.times(now.network.index["help/1"]) == (300, 360)


@pytest.mark.parametrize(
    ("person", "tasks", "code", "words"),
    [
        ("EV9", ("bolt", "tie"), "unknown", "Nobody of this run is called EV9"),
        ("EV1", ("tie", "wire"), "unknown", "EV1 has no task wire"),
        ("EV1", ("tie", "nothing"), "unknown", "EV1 has no task nothing"),
        ("EV1", ("tie", "tie"), "twice", "“Task tie” is named twice"),
        ("EV1", ("open", "tie"), "begun", "“Task open” was begun"),
        ("EV1", ("lift", "tie"), "begun", "“Task lift” was begun"),
        ("EV1", ("bolt", "tie"), "put-off", "“Task bolt” was put off"),
        ("EV1", ("help", "in"), "close-out", "stays where it is"),
        ("EV1", ("tie", "help"), "unchanged", "in this order already"),
        ("EV1", ("tie",), "incomplete", "at least two"),
        ("EV1", (), "incomplete", "at least two"),
    ],
)
def test_an_order_that_cannot_be_is_refused(person: str, tasks: tuple[str, ...], code: str, words: str) -> None:
    run = Run(MADE).mark(open_1=100)
    run.order(PutOff("bolt", "late"), 100)
    expect_refusal(run, ReorderTasks(person, tasks, "wish"), 110, code, words)


def test_a_new_order_needs_a_reason() -> None:
    expect_refusal(Run(MADE), SwapTasks("EV1", "bolt", "tie", ""), 10, "no-reason", "EV1 works in another order")


def test_swapping_a_task_with_itself_or_a_stranger_is_refused() -> None:
    expect_refusal(Run(MADE), SwapTasks("EV1", "tie", "tie", "wish"), 10, "twice")
    expect_refusal(Run(MADE), SwapTasks("EV1", "tie", "wire", "wish"), 10, "unknown")


def test_an_order_by_which_steps_wait_for_one_another_is_refused_and_names_them() -> None:
    expect_refusal(Run(MADE), SwapTasks("EV1", "lift", "tie", "wish"), 10, "circle", "(tie/1)", "(lift/", "waits for")


def test_what_stands_after_close_out_stays_there() -> None:
    odd = procedure(
        task("a", who="EV1"), task("b", who="EV1"), task("in", who="EV1"), task("c", who="EV1"), close_out="in"
    )
    expect_refusal(Run(odd), SwapTasks("EV1", "b", "c", "wish"), 10, "close-out", "after close-out")


def test_taken_work_can_be_put_in_a_new_order_and_given_back_out_of_it() -> None:
    run = Run(MADE)
    run.order(TakeWork("sweep"), 10)
    run.order(SwapTasks("EV2", "sweep", "help", "wish"), 20)
    assert names(run, "EV2") == ("wire", "help", "sweep", "in")
    run.order(GiveBackWork("sweep"), 30)
    assert names(run, "EV2") == ("wire", "help", "in")
    assert run.at(30).dropped == ()


def test_what_was_put_before_other_work_and_moved_stays_put_when_that_goes_back() -> None:
    run = Run(MADE)
    run.order(TakeWork("sweep"), 10)
    run.order(AddStep("Look", ("EV2",), 20, "sweep", (), "asked"), 20)
    assert names(run, "EV2") == ("wire", "added-1", "sweep", "help", "in")
    run.order(GiveBackWork("sweep"), 30)
    assert names(run, "EV2") == ("wire", "added-1", "help", "in")


CIRCLE = procedure(
    task("start", [500], who="EV2"),
    task("x", [50], who="EV2"),
    task("b", [50], who="EV1", after=["x"]),
    task("y", [50], who="EV2", after=["b"]),
)


def test_an_order_that_a_reopening_makes_impossible_is_left_out_and_said() -> None:
    """With b done, y need not wait for it; with b open, y before x would wait for b, and b for x."""
    run = Run(CIRCLE)
    run.order(MarkStep("b/1", ordered_because="it was there"), 10)
    run.order(SwapTasks("EV2", "x", "y", "wish"), 20)
    assert run.at(20).lists["EV2"] == ("start", "y", "x")
    run.order(ReopenStep("b/1", "slip"), 30)
    now = run.at(30)
    assert now.lists["EV2"] == ("start", "x", "y")
    (said,) = now.dropped
    assert said.startswith("EV2's new order (“Task y”, “Task x”) can't be kept: ")
    assert "waits for" in said
    assert "The order before it stands." in said
    run.order(MarkStep("b/1", ordered_because="done now"), 40)
    assert run.at(40).dropped == ()
    assert run.at(40).lists["EV2"] == ("start", "y", "x")
