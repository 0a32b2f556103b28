"""Rounds and gauges: when each is due, and orders about them. Each order returns events or refuses."""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import assert_never

from app.core.commands import Refusal, joined, said_or_nothing
from app.core.commands_live import AnswerRound, TakeReading
from app.core.events import Event
from app.core.events_watch import ReadingTaken, RoundAnswered
from app.core.procedure import Designator, Round, Supply
from app.core.situation import Situation
from app.core.watch import Made, Who

NEAR_S = 300
NEAR_PART = 10
"""A round is announced so many seconds before it is due, and overdue so many after, but no more than this part of its
interval. Our own bounds, no source."""
LARGEST = 1e12
"""No gauge shows more; larger numbers would leave the line through them without digits. Our own bound, no source."""


class RoundPhase(StrEnum):
    LATER = "later"
    SOON = "soon"
    DUE = "due"
    OVERDUE = "overdue"


@dataclass(frozen=True, slots=True)
class RoundState:
    """One round of one person (empty where the file names nobody).

    Attributes:
        due_s: elapsed second from which it is due: the last answer, or zero, plus its interval.
        last: the last answer that counts; None before the first.
    """

    round: Round
    person: Who
    due_s: int
    phase: RoundPhase
    last: Made | None


def near_s(one: Round) -> int:
    """How long before it is due a round is announced, and after that it is overdue, seconds."""
    return min(NEAR_S, one.every_s // NEAR_PART)


def round_states(situation: Situation) -> tuple[RoundState, ...]:
    """Every round of every person, the one due first first; none once the run has ended."""
    if situation.state.ended_s is not None:
        return ()
    found = [_state(situation, one, person) for one in situation.procedure.rounds for person in (one.who or ("",))]
    return tuple(sorted(found, key=lambda each: each.due_s))


def _state(situation: Situation, one: Round, person: Who) -> RoundState:
    made = situation.state.watch.rounds.get(one.name, {}).get(person, ())
    last = made[-1] if made else None
    due_s = (last.at_s if last else 0) + one.every_s
    return RoundState(one, person, due_s, _phase(situation.at_s - due_s, near_s(one)), last)


def _phase(past_s: int, near: int) -> RoundPhase:
    """`past_s`: seconds since it was due, below 0 before that."""
    if past_s < -near:
        return RoundPhase.LATER
    if past_s < 0:
        return RoundPhase.SOON
    return RoundPhase.DUE if past_s <= near else RoundPhase.OVERDUE


def order(situation: Situation, command: AnswerRound | TakeReading) -> tuple[Event, ...]:
    """Raises Refusal."""
    match command:
        case AnswerRound():
            return _answer(situation, command)
        case TakeReading(supply, person, value, anew, heard):
            return (_reading(situation, supply, person, value, anew, heard),)
        case _:
            assert_never(command)


def _answer(situation: Situation, command: AnswerRound) -> tuple[Event, ...]:
    one = next((each for each in situation.procedure.rounds if each.name == command.round), None)
    if one is None:
        names = joined(tuple(each.name for each in situation.procedure.rounds)) if situation.procedure.rounds else ""
        raise Refusal(
            "unknown", f"This procedure has no round {command.round[:60]}{f'; it has {names}' * bool(names)}."
        )
    person = _of(one.who, command.person, f"round {one.name}")
    answer = said_or_nothing(command.answer)
    if not command.good and not answer:
        raise Refusal("no-reason", f"Say what is bad at round {one.name}.")
    if len(dict(command.readings)) < len(command.readings):
        raise Refusal("twice", f"A gauge is given twice at round {one.name}; give each once.")
    made = RoundAnswered(one.name, person, command.good, answer, command.heard)
    readings = (
        _reading(situation, name, _reader(situation, name, command.person), value, False, command.heard)
        for name, value in command.readings
    )
    return (made, *readings)


def _of(who: tuple[Designator, ...], person: Designator | None, what: str) -> Designator | None:
    """Whose it is. Raises Refusal for somebody whom the file does not name, and where a name is missing."""
    if not who:
        if person is not None:
            raise Refusal("not-asked", f"The {what} is nobody's own; leave the person out.")
        return None
    if person not in who:
        raise Refusal("not-asked", f"The {what} is asked of {joined(who)}; say of whom this is.")
    return person


def _reader(situation: Situation, supply: str, person: Designator | None) -> Designator | None:
    """At a round a gauge that is nobody's own is read by whoever makes the round."""
    return person if _supply(situation, supply).who else None


def _supply(situation: Situation, name: str) -> Supply:
    found = next((each for each in situation.procedure.supplies if each.name == name), None)
    if found is None:
        raise Refusal("unknown", f"This procedure has no supply {name[:60]}.")
    return found


def _reading(
    situation: Situation, name: str, person: Designator | None, value: float, anew: bool, heard: bool
) -> Event:
    supply = _supply(situation, name)
    whose = _of(supply.who, person, f"supply {supply.name}")
    if not math.isfinite(value):
        raise Refusal("not-a-number", f"The reading of {supply.name} is not a number.")
    if abs(value) > LARGEST:
        raise Refusal(
            "not-a-number", f"No gauge of {supply.name} shows {value:.3g}; the largest number taken is {LARGEST:g}."
        )
    return ReadingTaken(supply.name, whose, value, anew, heard)
