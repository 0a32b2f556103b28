"""Whether what several stations were answered could have come of one order after the other.

The sequential model is `tests.core.ledger`, which has the rules from their words and shares no code with the core.
The log says in which order the accepted orders took effect, so nothing has to be searched: they must be allowed in
that order, that order must respect what was answered before what, and each refusal must be right at some moment
between its sending and its answer (linearizability: Herlihy and Wing 1990, ACM TOPLAS 12:463-492, from memory).
"""

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass

from app.core.state import State
from tests.core.ledger import Ledger, StepOrder


@dataclass(frozen=True, slots=True)
class Answered:
    """One order of a history.

    Attributes:
        sent, answered: places in the order in which things happened at the stations, one count for all.
        seq: the last event that came of it; None when it was refused.
        first_seq: its first event.
    """

    command: StepOrder
    at_s: int
    sent: int
    answered: int
    seq: int | None = None
    first_seq: int | None = None
    refused: str = ""


def snapshot(ledger: Ledger) -> Ledger:
    """The same ledger, to go on with apart. Its values are never changed in place, its tables are."""
    twin = copy(ledger)
    for name in ("done", "called", "counts", "acks", "answers", "started", "not_needed", "completing"):
        setattr(twin, name, getattr(ledger, name).copy())
    return twin


def violations(begun: Ledger, history: Sequence[Answered], state: State, since: int = 1) -> list[str]:
    """In words, all that no sequence of the orders could have brought about.

    Args:
        begun: the ledger before the first of them.
        state: the run's after all of them.
        since: the last seq before the first of them.
    """
    accepted = sorted((each for each in history if each.seq is not None), key=lambda each: each.seq or 0)
    states, wrong = [begun], list[str]()
    for each in accepted:
        states.append(snapshot(states[-1]))
        if not states[-1].give(each.command, each.at_s):
            wrong.append(f"{each.command} was accepted as seq {each.seq}, where it may not be")
    wrong += _out_of_step(accepted, since)
    wrong += [f"{each.command} was refused: {each.refused}" for each in history if _wrongly(each, accepted, states)]
    return wrong + differences(states[-1], state)


def _out_of_step(accepted: Sequence[Answered], since: int) -> list[str]:
    """Seqs that overlap or leave a gap, and orders that took effect before one that was answered before they were."""
    wrong, latest_sent = [], -1
    for each in accepted:
        if each.first_seq != since + 1:
            wrong.append(f"{each.command} begins at seq {each.first_seq}, after {since}")
        since = each.seq or 0
        if each.answered < latest_sent:
            wrong.append(f"{each.command} was answered before another was sent that has an earlier seq")
        latest_sent = max(latest_sent, each.sent)
    return wrong


def _wrongly(each: Answered, accepted: Sequence[Answered], states: Sequence[Ledger]) -> bool:
    """Whether an order was refused that was allowed at every moment between its sending and its answer."""
    if each.seq is not None:
        return False
    before = [place for place, other in enumerate(accepted, 1) if other.answered < each.sent]
    after = [place for place, other in enumerate(accepted) if other.sent > each.answered]
    possible = states[max(before, default=0) : min(after, default=len(accepted)) + 1]
    return all(snapshot(state).give(each.command, each.at_s) for state in possible)


def differences(ledger: Ledger, state: State) -> list[str]:
    """Where the run's state is not what the ledger has: marks, calls, counts."""
    done = {step: (mark.at_s, dict(mark.values)) for step, mark in state.done.items()}
    called = {step: (call.at_s, dict(call.values)) for step, call in state.progress.called.items()}
    counted = {step: [one.at_s for one in actions] for step, actions in state.progress.counts.items() if actions}
    wanted = (
        ("done", done, {step: (entry.at_s, entry.values) for step, entry in ledger.done.items()}),
        ("called", called, {step: (entry.at_s, entry.values) for step, entry in ledger.called.items()}),
        ("counted", counted, {step: [at for at, _ in some] for step, some in ledger.counts.items() if some}),
    )
    return [f"{name}: the run has {found}, the orders make {made}" for name, found, made in wanted if found != made]
