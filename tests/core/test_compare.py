"""Runs beside each other: what matches, by how much they differ, and what matches nothing."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.commands import TakeWork
from app.core.compare import Comparing, Ran, compare, spread
from app.core.compare import ran as ran_with
from app.core.procedure import Procedure
from app.core.situation import Situation
from tests.core.building import procedure, step, task
from tests.core.running import Run

MADE = procedure(
    task("a", [100, step(50, "Shut the valve")], who="EV1"),
    task("b", [60], who="EV2"),
    task("tray", [40], who="EV2", get_ahead=True),
)
LATER = procedure(
    task("a", [100, step(80, "Shut the valve"), step(20, "Look again")], who="EV1"),
    task("b", [step(60, "Do something else")], who=("EV2", "EV3")),
    task("tray", [40], who="EV2", get_ahead=True),
)


def at(made: Procedure, end_s: int, **marks: int) -> Situation:
    return Run(made).mark(**marks).at(end_s)


def ran(number: int, situation: Situation) -> Ran:
    """A run in which no mark was taken back."""
    return ran_with(number, situation, ())


def three() -> Comparing:
    return compare(
        [
            ran(1, at(MADE, 200, a_1=90, b_1=70, a_2=150)),
            ran(4, at(MADE, 300, a_1=120, a_2=200)),
            ran(7, at(LATER, 400, a_1=100, a_2=190, a_3=230, b_1=60)),
        ]
    )


def test_a_step_has_each_run_s_finish_duration_and_shift_against_plan_and_first_run() -> None:
    row = next(each for each in three().steps if each.id == "a/2")
    cells = [(c.plan_finish_s, c.finish_s, c.took_s, c.shift_s, c.since_first_s) for c in row.cells if c is not None]
    assert cells == [(150, 150, 60, 0, 0), (150, 200, 80, 50, 50), (180, 190, 90, 10, 40)]
    assert row.took == spread([60, 80, 90])
    assert row.shift is not None
    assert (row.shift.n, row.shift.least_s, row.shift.median_s, row.shift.most_s) == (3, 0, 10.0, 50)


def test_a_step_that_is_not_done_in_a_run_counts_in_no_spread() -> None:
    row = next(each for each in three().steps if each.id == "b/1")
    assert [cell is None or cell.finish_s for cell in row.cells] == [70, None, True]
    assert row.finish == spread([70])
    tray = next(each for each in three().steps if each.id == "tray/1")
    assert (tray.finish, [cell and cell.state for cell in tray.cells]) == (None, ["not taken"] * 3)


def test_what_has_no_match_is_told_with_the_reason() -> None:
    assert [(each.run, each.id, each.do, each.why) for each in three().unmatched] == [
        (7, "a/3", "Look again", "no other run has it"),
        (7, "b/1", "Do something else", "run 1 has “Do b 1” there; run 4 has “Do b 1” there"),
    ]


def test_a_step_keeps_its_match_where_another_was_put_before_it() -> None:
    before = procedure(task("a", [step(60, "Open"), step(60, "Turn"), step(60, "Turn"), step(60, "Close")], who="EV1"))
    after = procedure(
        task("a", [step(9, "Look"), *(step(60, each) for each in ("Open", "Turn", "Turn", "Close"))], who="EV2")
    )
    found = compare([ran(1, at(before, 300, a_1=60)), ran(2, at(after, 300, a_1=10, a_2=70))])
    assert [each.do for each in found.steps] == ["Open", "Turn", "Turn", "Close"]
    assert [cell and cell.finish_s for cell in found.steps[0].cells] == [60, 70]
    assert [(each.run, each.do) for each in found.unmatched] == [(2, "Look")]


def test_the_same_words_more_often_in_one_run_are_matched_by_number() -> None:
    once = procedure(task("a", [step(60, "Open"), step(60, "Turn")], who="EV1"))
    twice = procedure(task("a", [step(60, "Turn"), step(60, "Turn")], who="EV1"))
    found = compare([ran(1, at(once, 10)), ran(2, at(twice, 10))])
    assert [each.id for each in found.steps] == ["a/2"]
    assert [(each.run, each.id) for each in found.unmatched] == [(1, "a/1"), (2, "a/1")]


def test_people_are_matched_by_designator() -> None:
    people = {each.designator: each for each in three().people}
    assert list(people) == ["EV1", "EV2", "EV3"]
    assert [cell is None for cell in people["EV3"].cells] == [True, True, False]
    assert people["EV1"].finish == spread([150, 200, 230])
    assert people["EV1"].worked == spread([150, 200, 230])


def test_one_run_is_compared_with_nothing_but_still_shown() -> None:
    alone = compare([ran(1, at(MADE, 200, a_1=90))])
    assert len(alone.steps) == len(MADE.steps)
    assert alone.unmatched == ()
    with pytest.raises(ValueError, match="nothing to compare"):
        compare([])


def test_work_that_one_run_took_stands_beside_the_others_without_it() -> None:
    run = Run(MADE).mark(a_1=90, b_1=50)
    run.order(TakeWork("tray"), 95)
    run.mark(tray_1=130)
    found = compare([ran(1, run.at(140)), ran(2, at(MADE, 200, a_1=90))])
    tray = next(each for each in found.steps if each.id == "tray/1")
    assert [cell and (cell.state, cell.finish_s, cell.shift_s) for cell in tray.cells] == [
        ("done", 130, None),
        ("not taken", None, None),
    ]


@settings(deadline=None)
@given(ends=st.lists(st.integers(1, 500), min_size=1, max_size=6))
def test_a_spread_holds_its_median_between_its_ends(ends: list[int]) -> None:
    found = spread(ends)
    assert found is not None
    assert found.n == len(ends)
    assert min(ends) == found.least_s <= found.median_s <= found.most_s == max(ends)
    assert spread([None]) is None


def test_the_same_run_twice_differs_in_nothing() -> None:
    one = ran(1, at(MADE, 200, a_1=90, a_2=150, b_1=70))
    found = compare([one, replace(one, run=2)])
    assert all(row.shift is None or row.shift.least_s == row.shift.most_s for row in found.steps)
    assert all(cell is None or cell.since_first_s in (0, None) for row in found.steps for cell in row.cells)
