"""A whole run of simulated people, from zero to its end, made in memory. It stores nothing and reads no clock.

Each order is given at the very second at which it is due, so the log is that of a run whose server looked every second.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from app.core.commands import AddNote, Command
from app.core.commands_rehearsal import NoteInjectDone, SetInject, SetPlayers
from app.core.decide import decide
from app.core.events import Event, Logged, RunStarted
from app.core.fold import fold
from app.core.script import TRAINER
from app.core.simulating import acts
from app.core.situation import Prepared, Situation
from app.core.state import State
from app.core.times import instant

MOST_ACTS = 500_000
"""More orders than any procedure asks for; what goes on for ever is stopped here."""


class NeverEnds(Exception):
    """Simulated people can't bring this run to its end. ``str()`` says where it stands."""


@dataclass(frozen=True, slots=True)
class Ordered:
    """One order of a simulated run: given at elapsed second `at_s` by `by`, and the events that came of it."""

    at_s: int
    by: str
    command: Command
    events: tuple[Event, ...]


@dataclass(frozen=True, slots=True)
class Simulated:
    """`orders` in the order of the log, after its first event, `started`; `state`: that at the end."""

    started: RunStarted
    orders: tuple[Ordered, ...]
    state: State


def said_so(seed: int) -> str:
    return f"Simulated from seed {seed}: nobody did this."


def simulate(
    prepared: Prepared, revision: str, zero: datetime, seed: int, troubles: Sequence[SetInject] = ()
) -> Simulated:
    """A rehearsal in which the whole crew is simulated, with these troubles.

    Raises:
        NeverEnds: it can't come to its end. Refusal: a trouble can't befall this procedure, or it has no crew.
    """
    crew = tuple(person.designator for person in prepared.procedure.crew)
    run = _Run(prepared, RunStarted(revision, "rehearsal", instant(zero)), zero)
    run.order(0, AddNote(said_so(seed)), TRAINER)
    run.order(0, SetPlayers(crew, seed), TRAINER)
    for trouble in troubles:
        run.order(0, trouble, TRAINER)
    while run.state.ended_s is None:
        run.act()
    return Simulated(run.started, tuple(run.orders), run.state)


class _Run:
    """A run that goes from act to act."""

    def __init__(self, prepared: Prepared, started: RunStarted, zero: datetime) -> None:
        self._prepared = prepared
        self._zero = zero
        self._now_s = 0
        self.started = started
        self.orders: list[Ordered] = []
        self.state = self._folded(State(), 0, (started,), TRAINER)

    def order(self, at_s: int, command: Command, by: str) -> None:
        """Raises Refusal."""
        self._now_s = max(self._now_s, at_s)
        events = decide(Situation(self._prepared, self.state, self._now_s), command, at_s)
        self.state = self._folded(self.state, at_s, events, by)
        self.orders.append(Ordered(at_s, by, command, events))

    def act(self) -> None:
        """The next act of somebody. Raises NeverEnds."""
        coming = acts(Situation(self._prepared, self.state, self._now_s))
        if not coming or len(self.orders) > MOST_ACTS:
            left = len(self._prepared.procedure.steps) - len(self.state.done)
            raise NeverEnds(f"Simulated people can't end this run: {left} steps are open, and nobody can go on.")
        act = coming[0]
        self.order(act.at_s, act.command, act.signed)
        if act.inject is not None:
            self.order(self._now_s, NoteInjectDone(act.inject), act.signed)

    def _folded(self, state: State, at_s: int, events: tuple[Event, ...], by: str) -> State:
        moment = self._zero + timedelta(seconds=self._now_s)
        numbered = enumerate(events, start=state.seq + 1)
        return fold(
            [Logged(seq, at_s, self._now_s, moment, by, "simulated", "", event) for seq, event in numbered], state
        )
