"""States along a run's log, so that any moment of a long run is folded from near it. It changes nothing."""

from bisect import bisect_right
from collections.abc import Iterator
from threading import Lock

from app.core.events import Logged
from app.core.fold import changes_from_s, fold, happened_s
from app.core.state import EMPTY, State

EVERY = 2000
"""Events from one kept state to the next: folding so many takes a few milliseconds."""


class Past:
    """Over a log that only grows at its end. Safe to ask from several threads."""

    def __init__(self, log: list[Logged]) -> None:
        self._log = log
        self._lock = Lock()
        self._kept: list[State] = []
        self._latest_s: list[int] = []
        self._earliest_s: list[int] = []

    def at(self, until_s: int | None = None) -> State:
        """``fold(log, until_s=until_s)``: the state at an elapsed second, or after all events.

        A kept state serves when none of its events happened later than `until_s`, so that nothing in it was to be
        left out; an event that was entered late is among those that are folded after it.
        """
        with self._lock:
            self._keep()
            known = len(self._kept)
            place = known if until_s is None else bisect_right(self._latest_s, until_s)
            nearest = self._kept[place - 1] if place else EMPTY
        return fold(self._after(place, known, until_s), nearest, until_s)

    def _after(self, place: int, known: int, until_s: int | None) -> Iterator[Logged]:
        """The events after `place` of the `known` states, but for stretches of which `until_s` shows nothing."""
        for number in range(place, known):
            if until_s is None or self._earliest_s[number] <= until_s:
                yield from self._log[number * EVERY : (number + 1) * EVERY]
        yield from self._log[known * EVERY :]

    def _keep(self) -> None:
        while len(self._log) >= (begin := len(self._kept) * EVERY) + EVERY:
            events = self._log[begin : begin + EVERY]
            latest_s = max(happened_s(logged) for logged in events)
            self._latest_s.append(max([latest_s, *self._latest_s[-1:]]))
            self._earliest_s.append(min(changes_from_s(logged) for logged in events))
            self._kept.append(fold(events, self._kept[-1] if self._kept else EMPTY))
