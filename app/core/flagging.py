"""Orders about flags, wrong entries and the change of shift. Each function returns events or refuses."""

from typing import assert_never

from app.core import marking
from app.core.commands import Refusal, said, said_or_nothing
from app.core.commands_live import ClearFlag, HandOver, RaiseFlag, StrikeEntry
from app.core.events import Event
from app.core.events_watch import EntryStruck, FlagCleared, FlagRaised, ShiftHandedOver
from app.core.procedure import Designator, StepId
from app.core.situation import Situation

LONGEST_NAME = 60


def order(situation: Situation, command: RaiseFlag | ClearFlag | StrikeEntry | HandOver) -> tuple[Event, ...]:
    """Raises Refusal."""
    match command:
        case RaiseFlag(text, step, person):
            return (_raise(situation, text, step, person),)
        case ClearFlag(flag, reason):
            return (_clear(situation, flag, reason),)
        case StrikeEntry(entry, reason):
            return (_strike(situation, entry, reason),)
        case HandOver(to, text):
            return (_hand_over(to, text),)
        case _:
            assert_never(command)


def _raise(situation: Situation, text: str, step: StepId | None, person: Designator | None) -> Event:
    if step is not None:
        marking.find(situation, step)
    if person is not None and person not in situation.network.crew:
        raise Refusal("unknown", f"Nobody of this run is called {person[:60]}.")
    return FlagRaised(said(text, "Say what the flag is about."), step, person)


def _clear(situation: Situation, flag: int, reason: str) -> Event:
    if flag not in situation.state.watch.flags:
        raise Refusal("unknown", f"No flag stands from entry {flag}: it was cleared, or never raised.")
    return FlagCleared(flag, said(reason, "Say why the flag is cleared."))


def counting_entries(situation: Situation) -> frozenset[int]:
    """The seqs of the readings and the answers at rounds that count: what can be struck out."""
    watch = situation.state.watch
    readings = {each.seq for people in watch.readings.values() for one in people.values() for each in one}
    made = {each.seq for people in watch.rounds.values() for one in people.values() for each in one}
    return frozenset(readings | made)


def _strike(situation: Situation, entry: int, reason: str) -> Event:
    """Only what counts can be struck out: a reading, or an answer at a round."""
    if entry not in counting_entries(situation):
        raise Refusal("unknown", f"Entry {entry} is no reading or answer at a round that counts.")
    return EntryStruck(entry, said(reason, "Say why the entry is struck out."))


def _hand_over(to: str, text: str) -> Event:
    name = said(to, "Say who takes over.")
    if len(name) > LONGEST_NAME or not name.isprintable():
        raise Refusal("bad-name", f"A name is printable and at most {LONGEST_NAME} characters long.")
    return ShiftHandedOver(name, said_or_nothing(text))
