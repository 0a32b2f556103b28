"""Runs as they are held in memory, and how they get there. It decides nothing and stores nothing."""

import math
from collections.abc import Callable, Sequence

from app.core.events import Logged
from app.core.fold import fold
from app.core.situation import Prepared, Situation
from app.core.state import State
from app.service.past import Past
from app.service.shelf import Shelf
from app.store import journal, library
from app.store.clock import RunClock
from app.store.faults import RunDamaged, StoreFault
from app.store.library import StoredRun
from app.store.store import Store
from app.store.verifying import UNREADABLE

ClockOf = Callable[[StoredRun, Sequence[Logged], State], RunClock]
"""See `ClockSteps.clock_of`."""


class LiveRun:
    """One run in memory. `working` belongs to the writer thread; `log` and `state` hold what is committed."""

    def __init__(self, stored: StoredRun, prepared: Prepared, log: list[Logged], clock: ClockOf) -> None:
        self.stored = stored
        self.prepared = prepared
        self.log = log
        self.past = Past(log)
        self.state = self.past.at()
        self._clock_of = clock
        self.clock = clock(stored, log, self.state)
        self.working: tuple[State, str] = (self.state, log[-1].chain if log else "")
        # Only an imported run stands at its last event; no other's log need be walked for it.
        self._last_s = 0 if stored.origin is None else max((logged.logged_s for logged in log), default=0)

    def now_s(self) -> int:
        """Elapsed now in whole seconds, or the second at which it stands for good."""
        stands_s = self.stands_s
        return math.floor(self.clock.elapsed_s()) if stands_s is None else stands_s

    @property
    def stands_s(self) -> int | None:
        """Where the clock stands for good: an ended run's at its end, an imported one's at its last event."""
        if self.state.ended_s is not None:
            return self.state.ended_s
        return None if self.stored.origin is None else self._last_s

    def committed(self, logged: tuple[Logged, ...]) -> None:
        """Take over events that are on disk now. Called in order of `seq`."""
        was = self.state.rehearsal.ruling
        self.state = fold(logged, self.state)
        self.log.extend(logged)
        self._last_s = max(self._last_s, *(each.logged_s for each in logged))
        if self.state.rehearsal.ruling != was:
            self.clock = self._clock_of(self.stored, self.log, self.state)


def read_runs(store: Store) -> tuple[StoredRun, ...]:
    """All runs, the newest first.

    Raises:
        RunDamaged: the row of one can't be read. StoreFault: the database can't be.
    """
    try:
        return store.read(library.runs)
    except StoreFault:
        raise
    except UNREADABLE as error:
        raise RunDamaged("What is stored of a run is damaged: “leadline verify” says of which.") from error


def read_run(store: Store, shelf: Shelf, clock: ClockOf, run: int) -> LiveRun:
    """A run with all of its log.

    Raises:
        NoSuchRun: there is none. Refused: this reader does not take its procedure.
        RunDamaged: what is stored of it can't be read. StoreFault: the database can't be.
    """
    try:
        stored = store.read(lambda conn: library.run(conn, run))
        log = store.read(lambda conn: journal.read(conn, run))
        live = LiveRun(stored, shelf.prepared(shelf.revision(stored.revision)), log, clock)
        # A log may be sound JSON and yet speak of steps that the procedure does not have.
        Situation(live.prepared, live.state, max(0, live.now_s()))
        return live
    except StoreFault:
        raise
    except UNREADABLE as error:
        raise RunDamaged(damage_words(run)) from error


def damage_words(run: int) -> str:
    """What is said where a damaged run is asked for."""
    return (
        f"What is stored of run {run} is damaged, so it can't be shown: “leadline verify {run}” says what. "
        "The other runs are as they were."
    )
