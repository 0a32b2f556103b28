"""Work that was taken back and done again: how long each piece took, and what it leaves alone."""

from app.core.as_run import as_run
from app.core.commands import RecordStart, ReopenStep
from app.core.debrief import debrief
from app.core.debrief_again import worked
from tests.core.building import procedure, task
from tests.core.running import Run

MADE = procedure(task("a", [480, 60, 60], who="EV1"), task("b", [30], who="EV2"))


def taken_back() -> Run:
    """The first step is taken back after five hours and done again 3 s later."""
    run = Run(MADE).mark(a_1=480, a_2=540, b_1=40)
    run.order(ReopenStep("a/1", "the pressure came back"), 18_000)
    return run.mark(a_1=18_003)


def test_a_step_that_is_done_again_begins_when_it_was_taken_back() -> None:
    run = taken_back()
    rows = {row.id: row for row in worked(run.at(18_100), run.log).steps}
    assert (rows["a/1"].start_s, rows["a/1"].took_s) == (18_000, 3)
    assert (rows["a/2"].start_s, rows["a/2"].took_s) == (480, 60), "what followed keeps its own duration"
    assert rows["b/1"].took_s == 40


def test_its_people_worked_both_pieces_and_not_the_hours_between() -> None:
    run = taken_back()
    told = debrief(run.prepared, run.log, 18_003)
    ev1 = next(each for each in told.people if each.designator == "EV1")
    assert (ev1.worked_s, ev1.done, ev1.of, ev1.plan_work_s) == (480 + 60 + 3, 2, 3, 600)


def test_while_it_is_not_done_again_its_first_piece_still_counts() -> None:
    run = Run(MADE).mark(a_1=480, a_2=540)
    run.order(ReopenStep("a/1", "it came back"), 600)
    found = worked(run.at(605), run.log)
    assert [(piece.id, piece.start_s, piece.finish_s) for piece in found.pieces] == [("a/1", 0, 480)]
    ev1 = debrief(run.prepared, run.log, 605).people[0]
    assert (ev1.worked_s, ev1.done) == (545, 1)


def test_a_step_taken_back_twice_has_three_pieces() -> None:
    run = taken_back()
    run.order(ReopenStep("a/1", "once more"), 20_000)
    run.mark(a_1=20_010)
    found = worked(run.at(20_010), run.log)
    assert [(piece.start_s, piece.finish_s) for piece in found.pieces] == [(0, 480), (18_000, 18_003)]
    assert next(row.took_s for row in found.steps if row.id == "a/1") == 10
    assert next(row.took_s for row in found.steps if row.id == "a/2") == 60


def test_a_recorded_start_stands() -> None:
    run = Run(MADE).mark(a_1=480)
    run.order(ReopenStep("a/1", "it came back"), 600)
    run.order(RecordStart("a/1"), 700, 700)
    run.mark(a_1=800)
    assert next(row.took_s for row in worked(run.at(900), run.log).steps if row.id == "a/1") == 100


def test_without_anything_taken_back_the_rows_are_those_of_the_run() -> None:
    run = Run(MADE).mark(a_1=480, a_2=540, b_1=40)
    found = worked(run.at(600), run.log)
    assert (found.steps, found.pieces) == (as_run(run.at(600)), ())
