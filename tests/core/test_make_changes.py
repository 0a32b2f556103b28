"""What was tried is done: each change in the run that those before it lead to, all of them or none."""

import pytest

from app.core.commands import MakeChanges
from app.core.events import TakesRevised, TasksPutOff, TasksReordered
from tests.core.ordering import expect_refusal
from tests.core.running import Run
from tests.core.test_replan import MADE


def test_each_change_is_made_in_the_run_that_those_before_it_lead_to() -> None:
    run = Run(MADE)
    said = ("swap lift and bolt of EV1", "EV1 loses 30 s", "open/1 takes 200 s", "put off bolt")
    events = run.order(MakeChanges(said, "ice"), 10)
    assert [type(each) for each in events] == [TasksReordered, TakesRevised, TakesRevised, TasksPutOff]
    assert events[1:] == (
        TakesRevised("open/1", 130, "ice"),
        TakesRevised("open/1", 200, "ice"),
        TasksPutOff(("bolt",), "ice"),
    )
    assert [each.seq for each in run.log] == [1, 2, 3, 4, 5]
    assert run.at(10).projection.end_s == 550 + 100 - 50


def test_one_refusal_refuses_them_all_and_says_which() -> None:
    run = Run(MADE)
    command = MakeChanges(("put off bolt", "bolt/1 takes 10 s"), "quick")
    expect_refusal(run, command, 10, "put-off", "Change 2 of 2: ", "put it back first")
    assert len(run.log) == 1


def test_a_single_change_is_refused_in_its_own_words() -> None:
    expect_refusal(Run(MADE), MakeChanges(("put off lift",), "late"), 10, "must-be-done", "“Task lift” may not be")


@pytest.mark.parametrize("count", [0, 11])
def test_from_one_to_ten_changes_are_made_at_once(count: int) -> None:
    expect_refusal(Run(MADE), MakeChanges(("put off bolt",) * count, "late"), 10, "incomplete", "From 1 to 10")


def test_the_reason_is_asked_for() -> None:
    expect_refusal(Run(MADE), MakeChanges(("put off bolt",), " "), 10, "no-reason", "Say why")


def test_changes_are_made_now() -> None:
    expect_refusal(Run(MADE), MakeChanges(("put off bolt",), "late"), 20, "not-late", at_s=10)
