"""Runs as they are held in memory, and how they get there. It decides nothing and stores nothing."""

import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from threading import RLock

from sqlalchemy import Connection

from app.core.events import Logged
from app.core.fold import fold
from app.core.situation import Prepared, Situation
from app.core.state import EMPTY, State
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


@dataclass(frozen=True, slots=True)
class Head:
    """Where a log ends: the state there, the chain of its last event, and the second at which that was logged."""

    state: State
    chain: str
    logged_s: int

    def after(self, logged: Sequence[Logged]) -> "Head":
        """With these events, which follow it."""
        return Head(fold(logged, self.state), logged[-1].chain, logged[-1].logged_s) if logged else self


class LiveRun:
    """One run in memory. `working` belongs to the writer thread; `log` and `state` hold what is committed.

    `taking` is held while committed events are taken over, by the writer's thread or by that which hears other servers.
    """

    def __init__(self, stored: StoredRun, prepared: Prepared, log: list[Logged], clock: ClockOf) -> None:
        self.stored = stored
        self.prepared = prepared
        self.log = log
        self.past = Past(log)
        self.state = self.past.at()
        self._clock_of = clock
        self.clock = clock(stored, log, self.state)
        self.taking = RLock()
        self.working = self.head()
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

    def head(self) -> Head:
        """Of what is committed, as far as it is known here."""
        with self.taking:
            return Head(self.state, self.log[-1].chain, self.log[-1].logged_s) if self.log else Head(self.state, "", 0)

    def committed(self, logged: Sequence[Logged]) -> None:
        """Take over events that are on disk now. Called in order of `seq`."""
        was = self.state.rehearsal.ruling
        self.state = fold(logged, self.state)
        self.log.extend(logged)
        self._last_s = max(self._last_s, *(each.logged_s for each in logged))
        if self.state.rehearsal.ruling != was:
            self.clock = self._clock_of(self.stored, self.log, self.state)


def head_in(conn: Connection, live: LiveRun) -> Head:
    """The head of a run's log as this transaction sees it, from the nearest one that is known.

    A batch that was rolled back leaves `working` ahead of the log, and another server may have gone on from it: the
    chain tells, and what follows is read, or all where nothing that is known stands in the log.
    """
    run = live.stored.run
    seq, chain = journal.head(conn, run)
    for known in (live.working, live.head()):
        if (known.state.seq, known.chain) == (seq, chain):
            return known
        if 0 < known.state.seq < seq:
            first, *rest = journal.read(conn, run, known.state.seq - 1)
            if first.chain == known.chain:
                return known.after(rest)
    return Head(EMPTY, chain, 0).after(journal.read(conn, run))


def read_runs(store: Store) -> tuple[StoredRun, ...]:
    """All runs, the newest first.

    Raises:
        RunDamaged: the row of one can't be read. StoreFault: the database can't be.
    """
    with damage_told("What is stored of a run is damaged: “leadline verify” says of which."):
        return store.read(library.runs)


def read_run(store: Store, shelf: Shelf, clock: ClockOf, run: int) -> LiveRun:
    """A run with all of its log.

    Raises:
        NoSuchRun: there is none. Refused: this reader does not take its procedure.
        RunDamaged: what is stored of it can't be read. StoreFault: the database can't be.
    """
    with damage_told(damage_words(run)):
        stored = store.read(lambda conn: library.run(conn, run))
        log = store.read(lambda conn: journal.read(conn, run))
        live = LiveRun(stored, shelf.prepared(shelf.revision(stored.revision)), log, clock)
        # A log may be sound JSON and yet speak of steps that the procedure does not have.
        Situation(live.prepared, live.state, max(0, live.now_s()))
        return live


@contextmanager
def damage_told(words: str) -> Iterator[None]:
    """Raises RunDamaged, in these words: what is stored can't be read within. A StoreFault stays what it is."""
    try:
        yield
    except StoreFault:
        raise
    except UNREADABLE as error:
        raise RunDamaged(words) from error


def damage_words(run: int) -> str:
    """What is said where a damaged run is asked for."""
    return (
        f"What is stored of run {run} is damaged, so it can't be shown: “leadline verify {run}” says what. "
        "The other runs are as they were."
    )
