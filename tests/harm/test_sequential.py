"""What the judge of histories calls impossible is, and what it lets pass is not."""

from dataclasses import replace

from app.core.commands import MarkStep, ReopenStep
from app.core.fold import fold
from app.core.state import State
from tests.core.building import procedure, task
from tests.core.ledger import Ledger
from tests.core.running import Run
from tests.harm.sequential import Answered, violations

MADE = procedure(task("a", [60, 60], who="EV1"), crew=("EV1",))
FIRST, SECOND, AGAIN = MarkStep("a/1"), MarkStep("a/2"), ReopenStep("a/1", "slip")


def _state(*commands: MarkStep | ReopenStep) -> State:
    run = Run(MADE)
    for command in commands:
        run.order(command, 100)
    return fold(run.log)


def _accepted(command: MarkStep | ReopenStep, sent: int, answered: int, seq: int) -> Answered:
    return Answered(command, 100, sent, answered, seq, seq)


def _refused(command: MarkStep | ReopenStep, sent: int, answered: int) -> Answered:
    return Answered(command, 100, sent, answered, refused="no")


def _judged(state: State, *history: Answered) -> list[str]:
    return violations(Ledger(MADE), history, state)


def test_orders_that_took_effect_in_the_order_of_the_log_are_let_pass() -> None:
    marks = (_accepted(FIRST, 0, 3, 2), _accepted(SECOND, 1, 2, 3))
    assert _judged(_state(FIRST, SECOND), *marks) == []


def test_a_mark_that_is_accepted_twice_is_found() -> None:
    (wrong,) = _judged(_state(FIRST), _accepted(FIRST, 0, 2, 2), _accepted(FIRST, 1, 3, 3))
    assert "as seq 3, where it may not be" in wrong


def test_an_update_that_is_lost_is_found_in_the_state() -> None:
    (wrong,) = _judged(_state(FIRST), _accepted(FIRST, 0, 1, 2), _accepted(SECOND, 2, 3, 3))
    assert wrong.startswith("done:")


def test_a_seq_before_that_of_an_order_answered_earlier_is_found() -> None:
    swapped = (_accepted(FIRST, 2, 3, 2), _accepted(SECOND, 0, 1, 3))
    assert any("answered before another was sent" in each for each in _judged(_state(FIRST, SECOND), *swapped))


def test_a_gap_and_a_seq_given_twice_are_found() -> None:
    assert any("begins at seq 4" in each for each in _judged(_state(FIRST), _accepted(FIRST, 0, 1, 4)))
    twice = (_accepted(FIRST, 0, 1, 2), replace(_accepted(SECOND, 2, 3, 3), first_seq=2))
    assert any("begins at seq 2" in each for each in _judged(_state(FIRST, SECOND), *twice))


def test_a_refusal_is_let_pass_if_it_was_right_at_one_moment_between_sending_and_answer() -> None:
    done = _accepted(FIRST, 1, 2, 2)
    assert _judged(_state(FIRST), done, _refused(SECOND, 0, 3)) == []
    assert _judged(_state(FIRST), done, _refused(FIRST, 0, 3)) == []
    assert _judged(_state(FIRST), done, _refused(FIRST, 3, 4)) == []


def test_a_refusal_that_was_right_at_no_moment_is_found() -> None:
    done, back = _accepted(FIRST, 0, 1, 2), _accepted(AGAIN, 6, 7, 3)
    assert any("was refused" in each for each in _judged(_state(FIRST), done, _refused(SECOND, 2, 3)))
    assert any("was refused" in each for each in _judged(_state(FIRST, AGAIN), done, back, _refused(SECOND, 4, 5)))
    assert _judged(_state(FIRST, AGAIN), done, back, _refused(SECOND, 4, 8)) == []
