"""A run's log told in order of time: the state after each entry that moves the lead. It judges nothing.

The log's own order is that in which things were entered. A mark that was heard late happened before entries that stand
above it, so a debrief can't simply fold the log entry by entry: its moments would be those of the keyboard.
"""

from bisect import bisect_left
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from app.core.events import (
    Event,
    Logged,
    StartRecorded,
    StepAdded,
    StepMarked,
    StepNotNeeded,
    StepReopened,
    TakesRevised,
    TaskPutBack,
    TasksPutOff,
    TasksReordered,
    WorkGivenBack,
    WorkTaken,
)
from app.core.events_progress import MarkCorrected
from app.core.fold import fold, happened_s
from app.core.state import EMPTY, State

EVERY = 64
"""Entries from one kept state to the next, so that an entry that was heard late is put in from near it. Our own."""

_MOVES = (
    *(StepMarked, StepReopened, StartRecorded, StepNotNeeded, TasksPutOff, TaskPutBack),
    *(WorkTaken, WorkGivenBack, TakesRevised, TasksReordered, StepAdded, MarkCorrected),
)


@dataclass(frozen=True, slots=True)
class Told:
    """An entry of the log at the second at which it counts, and the state after it.

    `state` has what the lead depends on and no more: goes, readings, notes and the like are left out.
    """

    at_s: int
    logged: Logged
    state: State


def moves_lead(event: Event) -> bool:
    """Whether an event of this kind can change a plan, a projection or a lead. The others never do."""
    return isinstance(event, _MOVES)


def retold(log: Iterable[Logged]) -> Iterator[Told]:
    """The entries that can move the lead, in order of the second at which they count, then of `seq`.

    After the last entry of a second the state is that of ``fold(log, until_s=second)`` in all that moves the lead. A
    mark that was corrected to a later time comes twice: where its first time falls away, and at its new time.
    """
    entries = [(happened_s(logged), logged) for logged in log if moves_lead(logged.event)]
    entries += [
        (logged.event.was_s, logged)
        for _, logged in entries
        if isinstance(logged.event, MarkCorrected) and logged.event.was_s < logged.event.now_s
    ]
    entries.sort(key=lambda entry: (entry[0], entry[1].seq))
    told = _Tale()
    for at_s, logged in entries:
        yield Told(at_s, logged, told.put(logged, at_s))


class _Tale:
    """The entries put in so far, in order of `seq`, and the states after every so many of them."""

    def __init__(self) -> None:
        self._entries: list[Logged] = []
        self._seqs: list[int] = []
        self._kept: list[State] = [EMPTY]
        self._state = EMPTY

    def put(self, logged: Logged, at_s: int) -> State:
        """The state with this entry too, as it was at `at_s`."""
        place = bisect_left(self._seqs, logged.seq)
        if place == len(self._seqs):
            self._append(logged, at_s)
        else:
            self._insert(logged, at_s, place)
        return self._state

    def _append(self, logged: Logged, at_s: int) -> None:
        self._entries.append(logged)
        self._seqs.append(logged.seq)
        self._state = fold((logged,), self._state, at_s)
        if len(self._entries) % EVERY == 0:
            self._kept.append(self._state)

    def _insert(self, logged: Logged, at_s: int, place: int) -> None:
        """Put in what was entered after some that happened later, and tell from there on anew."""
        if self._seqs[place] != logged.seq:
            self._entries.insert(place, logged)
            self._seqs.insert(place, logged.seq)
        del self._kept[place // EVERY + 1 :]
        self._state = self._kept[-1]
        for begin in range((len(self._kept) - 1) * EVERY, len(self._entries), EVERY):
            self._state = fold(self._entries[begin : begin + EVERY], self._state, at_s)
            if begin + EVERY <= len(self._entries):
                self._kept.append(self._state)
