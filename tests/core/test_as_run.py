"""A run as it was performed, worked out by hand for a small one."""

from dataclasses import replace

from app.core.as_run import AsRunStep, as_run
from app.core.commands import AddStep, RecordStart, ReopenStep, SetNotNeeded, TakeWork, UndoMark
from app.core.debrief_again import worked
from app.core.situation import StepState
from tests.core.building import procedure, task
from tests.core.running import Run

OUTING = procedure(
    task("a", [60, 120], who="EV1"),
    task("b", [60], who="EV2", after=["a"]),
    task("c", [60], who="EV1", get_ahead=True),
    crew=("EV1", "EV2"),
)


def rows(run: Run, at_s: int) -> dict[str, AsRunStep]:
    return {each.id: each for each in as_run(run.at(at_s))}


def test_a_start_is_the_finish_of_what_was_waited_for_or_what_was_recorded() -> None:
    run = Run(OUTING)
    run.mark(a_1=80)
    run.order(RecordStart("a/2"), 100)
    run.mark(a_2=250)
    found = rows(run, 260)
    spans = {step: (row.start_s, row.finish_s, row.took_s, row.start_known) for step, row in found.items()}
    assert spans["a/1"] == (0, 80, 80, False)
    assert spans["a/2"] == (100, 250, 150, True)
    assert spans["b/1"] == (250, None, None, False)
    assert [found[step].finish_shift_s for step in ("a/1", "a/2", "b/1")] == [20, 70, None]
    assert found["a/1"].by == "desk"


def test_what_has_no_place_in_the_plan_has_no_planned_times() -> None:
    run = Run(OUTING)
    item = rows(run, 0)["c/1"]
    assert (item.plan_start_s, item.plan_finish_s, item.state, item.start_s) == (None, None, None, None)
    run.order(TakeWork("c"), 10)
    run.order(AddStep("Look", ("EV2",), 30, None, (), "to see"), 20)
    found = rows(run, 30)
    assert found["c/1"].state is StepState.READY
    (added,) = [row for row in found.values() if row.task not in ("a", "b", "c")]
    assert (added.plan_start_s, added.do, added.takes_s) == (None, "Look", 30)


def test_a_step_that_was_reopened_is_done_anew_from_there_and_an_undone_slip_is_not() -> None:
    run = Run(OUTING)
    run.mark(a_1=80)
    run.order(ReopenStep("a/1", "not seated"), 1_000)
    run.mark(a_1=1_030)
    again = {each.id: each for each in worked(run.at(1_040), run.log).steps}["a/1"]
    assert again == replace(rows(run, 1_040)["a/1"], start_s=1_000, finish_s=1_030)
    slip = Run(OUTING)
    slip.mark(a_1=80)
    slip.order(UndoMark("a/1"), 85)
    slip.mark(a_1=90)
    assert rows(slip, 95)["a/1"].took_s == 90


def test_what_is_not_needed_took_nothing() -> None:
    run = Run(OUTING)
    run.order(SetNotNeeded("a/1", "seen to"), 50)
    row = rows(run, 60)["a/1"]
    assert (row.state, row.start_s, row.finish_s) == (StepState.NOT_NEEDED, None, None)
