"""Steps of several like actions: each counted once, in turn, and all of them before the mark."""

from dataclasses import replace

import pytest

from app.core.commands import Command, MarkStep, PutOff, RecordStart, ReopenStep, ReorderTasks, UndoMark
from app.core.commands_live import AcceptValues, AcknowledgeWarning, ConfirmStep, CountAction
from app.core.events import StepMarked
from app.core.events_progress import ActionsDone, CompletionCalled
from app.core.fold import fold
from app.core.progress import Counted
from tests.core.building import procedure, task
from tests.core.live import BAD, GOOD, LIVE
from tests.core.ordering import expect_refusal
from tests.core.running import Run


def counted(run: Run, step: str, *seconds: int) -> Run:
    """Count the actions from the next one on, at these seconds."""
    for at_s in seconds:
        number = len(run.state.progress.counts.get(step, ())) + 1
        run.order(CountAction(step, number), max(at_s, run.now_s), at_s)
    return run


def test_each_action_is_counted_with_its_time_and_the_last_one_completes_the_step() -> None:
    run = Run(LIVE)
    assert run.order(CountAction("screws/1", 1), 10) == (ActionsDone("screws/1", 1, 1),)
    counted(run, "screws/1", 20, 30)
    assert [action.at_s for action in run.state.progress.counts["screws/1"]] == [10, 20, 30]
    assert "screws/1" not in run.state.done
    last = (ActionsDone("screws/1", 4, 4), StepMarked("screws/1"))
    assert run.order(CountAction("screws/1", 4), 40) == last
    assert run.state.done["screws/1"].at_s == 40


def test_two_stations_can_not_count_one_action_twice_nor_leave_one_out() -> None:
    run = counted(Run(LIVE), "screws/1", 10, 20)
    expect_refusal(run, CountAction("screws/1", 2), 21, "counted", "2 of 4 was counted already, at 00:00:20")
    expect_refusal(run, CountAction("screws/1", 4), 21, "not-next", "3 of 4 is next")
    expect_refusal(run, CountAction("screws/1", 0), 21, "not-next")
    expect_refusal(run, CountAction("read/1", 1), 21, "not-counted", "mark it")


def test_an_action_is_not_counted_before_the_one_before_it_nor_before_the_steps_start() -> None:
    run = Run(LIVE)
    run.order(RecordStart("screws/1"), 10)
    expect_refusal(run, CountAction("screws/1", 1), 20, "before-start", "00:00:10", at_s=9)
    counted(run, "screws/1", 20)
    expect_refusal(run, CountAction("screws/1", 2), 30, "before-count", "1 of 4 was counted at 00:00:20", at_s=19)
    assert run.order(CountAction("screws/1", 2), 30, 20)


def test_a_start_is_not_recorded_after_the_first_action() -> None:
    run = counted(Run(LIVE), "screws/1", 20)
    expect_refusal(run, RecordStart("screws/1"), 30, "after-call", "00:00:20")


def test_an_action_waits_for_what_its_step_waits_for() -> None:
    refusal = expect_refusal(Run(LIVE), CountAction("then/2", 1), 10, "open-prerequisite", "(then/1) is open")
    assert not refusal.may_order


def test_an_action_waits_for_the_warning() -> None:
    hot = replace(LIVE.step("screws/1"), warning="Hot.")
    run = Run(procedure(task("a", [hot], who="EV1")))
    expect_refusal(run, CountAction("a/1", 1), 10, "warning", "EV3")
    run.order(AcknowledgeWarning("a/1", "EV3"), 10)
    assert run.order(CountAction("a/1", 1), 11)


def test_the_last_action_without_its_values_only_counts_and_the_mark_brings_them() -> None:
    run = counted(Run(LIVE), "bolts/1", 10, 20)
    assert run.order(CountAction("bolts/1", 3), 30) == (ActionsDone("bolts/1", 3, 3),)
    expect_refusal(run, CountAction("bolts/1", 4), 31, "not-next", "all were counted")
    expect_refusal(run, MarkStep("bolts/1"), 31, "values-missing", "“gap” (mm)")
    expect_refusal(run, MarkStep("bolts/1", GOOD), 40, "before-count", "00:00:30", at_s=29)
    assert run.order(MarkStep("bolts/1", GOOD), 40) == (StepMarked("bolts/1", GOOD),)


def test_the_last_action_with_its_values_is_a_mark_or_a_call() -> None:
    run = counted(Run(LIVE), "bolts/1", 10, 20)
    assert run.order(CountAction("bolts/1", 3, GOOD), 30)[-1] == StepMarked("bolts/1", GOOD)
    other = counted(Run(LIVE), "bolts/1", 10, 20)
    assert other.order(CountAction("bolts/1", 3, BAD), 30)[-1] == CompletionCalled("bolts/1", BAD)
    assert other.order(AcceptValues("bolts/1", "worn"), 35)[-1] == StepMarked("bolts/1", BAD)


def test_a_mark_is_all_the_actions_that_are_left_at_one_moment() -> None:
    run = counted(Run(LIVE), "screws/1", 10)
    assert run.order(MarkStep("screws/1"), 40) == (ActionsDone("screws/1", 2, 4), StepMarked("screws/1"))
    assert [action.at_s for action in run.state.progress.counts["screws/1"]] == [10, 40, 40, 40]


def test_a_mark_that_is_refused_counts_nothing() -> None:
    run = counted(Run(LIVE), "bolts/1", 10)
    expect_refusal(run, MarkStep("bolts/1"), 20, "values-missing")
    assert len(run.state.progress.counts["bolts/1"]) == 1
    ordered = run.order(MarkStep("bolts/1", (), "gauge broke"), 30)
    assert ordered == (ActionsDone("bolts/1", 2, 3), StepMarked("bolts/1", (), "gauge broke"))


def test_the_last_action_of_a_step_with_a_second_person_is_a_call() -> None:
    run = Run(procedure(task("a", [replace(LIVE.step("screws/1"), confirm_by="EV2")], who="EV1")))
    counted(run, "a/1", 1, 2, 3)
    assert run.order(CountAction("a/1", 4), 4) == (ActionsDone("a/1", 4, 4), CompletionCalled("a/1"))
    assert run.order(ConfirmStep("a/1", "EV2"), 5)[-1] == StepMarked("a/1")


@pytest.mark.parametrize(
    "first", [CountAction("screws/1", 1), MarkStep("seen/1")], ids=["an action counted", "a step called"]
)
def test_a_task_with_anything_counted_or_called_is_begun(first: Command) -> None:
    may = tuple(
        task(each.id, each.steps, may_put_off=True) for each in LIVE.tasks if each.id in ("screws", "seen", "both")
    )
    run = Run(procedure(task("more", [60], who=("EV1", "EV3")), *may, crew=("EV1", "EV2", "EV3")))
    name, _, _ = first.step.partition("/")  # type: ignore[union-attr]  # both are about a step
    assert not run.at(0).begun(name)
    run.order(first, 5)
    assert run.at(10).begun(name)
    expect_refusal(run, PutOff(name, "late"), 10, "begun")
    person = run.prepared.procedure.step(f"{name}/1").who[0]
    expect_refusal(run, ReorderTasks(person, (name, "more"), "first that"), 10, "begun", f"“Task {name}”")


def test_a_step_reopened_with_a_reason_is_counted_anew() -> None:
    run = counted(Run(LIVE), "screws/1", 10, 20)
    assert run.order(ReopenStep("screws/1", "wrong screws"), 30)
    assert not run.state.begun("screws")
    assert run.order(CountAction("screws/1", 1), 40)


def test_a_past_moment_has_the_actions_counted_by_then() -> None:
    run = counted(Run(LIVE), "screws/1", 10, 20, 30)
    run.order(CountAction("screws/1", 4), 60, 50)
    for second, done in ((9, 0), (10, 1), (29, 2), (49, 3), (50, 4)):
        state = fold(run.log, until_s=second)
        assert len(state.progress.counts.get("screws/1", ())) == done
        assert ("screws/1" in state.done) is (second >= 50)


def test_a_past_moment_does_not_count_twice_what_was_taken_back_later_and_counted_earlier() -> None:
    run = counted(Run(LIVE), "screws/1", 30)
    run.order(UndoMark("screws/1"), 60)
    run.order(CountAction("screws/1", 1), 70, 20)
    assert fold(run.log, until_s=40).progress.counts["screws/1"] == (Counted(20, 4),)
