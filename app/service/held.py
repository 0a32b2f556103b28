"""The runs that are in memory: how they get there, and how they follow what is stored. It gives no order.

What this server stores it takes over itself. What another one on the same database stored is read after the last event
that is here, so whoever brings the news, and however late, each event is taken over once and in order.
"""

import logging
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

from app.core.commands import Refusal
from app.core.events import ClockStepped, Logged
from app.core.situation import Situation
from app.service.clock_steps import ClockSteps
from app.service.live_run import LiveRun, damage_told, damage_words, read_run, read_runs
from app.service.pace import Pace
from app.service.shelf import Shelf
from app.store import journal
from app.store.clock import ServerClock
from app.store.faults import NoSuchRun, RunDamaged, StoreFault
from app.store.library import StoredRun
from app.store.store import Store

logger = logging.getLogger(__name__)

ALL_RUNS = 0
"""In place of a run's number where the list of runs, or of procedures, has changed. Runs count from 1."""


class Held:
    """The runs of one store as one server has them, and the clock that they share. Safe to use from several threads."""

    def __init__(self, store: Store, clock: ServerClock | None = None) -> None:
        self.store = store
        self._pace = Pace() if store.shared and clock is None else None
        self.clock = clock or (ServerClock(store.utc, self._pace.read) if self._pace else ServerClock(store.utc))
        self.shelf = Shelf(store, self.clock)
        self.behind: set[int] = set()
        self._runs: dict[int, LiveRun] = {}
        self._damaged: set[int] = set()
        self._listeners: list[Callable[[int, int], None]] = []
        self._steps = ClockSteps(self.clock, None if store.shared else store.data_dir)

    def listen(self, listener: Callable[[int, int], None]) -> None:
        """`listener(run, seq)` is called after each commit, whoever's it is, in any thread.

        With ALL_RUNS where the lists have changed by another server's doing.
        """
        self._listeners.append(listener)

    def _tell(self, run: int, seq: int) -> None:
        for listener in self._listeners:
            listener(run, seq)

    def runs(self) -> tuple[StoredRun, ...]:
        """The newest first. Raises RunDamaged."""
        return read_runs(self.store)

    def holds(self, run: int) -> bool:
        """Whether the run is in memory; else the first who asks for it reads its procedure and its whole log."""
        return run in self._runs

    def run(self, run: int) -> LiveRun:
        """Raises NoSuchRun, RunDamaged, or Refused (see `prepared`)."""
        if run in self._damaged:
            raise RunDamaged(damage_words(run))
        if run not in self._runs:
            try:
                self._runs.setdefault(run, read_run(self.store, self.shelf, self._steps.clock_of, run))
            except RunDamaged:
                self._damaged.add(run)  # To find it out again each second would cost what reading a whole log costs.
                raise
            if self.store.shared:
                self.catch_up(run)  # News that came while it was read found it not in memory.
        return self._runs[run]

    def situation(self, run: int, at_s: int | None = None) -> Situation:
        """Where the run stands now, or stood at an elapsed second that has passed.

        Raises:
            NoSuchRun: there is none. Refusal: `at_s` is before zero or has not come yet.
        """
        live = self.run(run)
        if at_s is None:
            return Situation(live.prepared, live.state, max(0, live.now_s()))
        if not 0 <= at_s <= max(0, live.now_s()):
            late = "has not come yet" if live.state.ended_s is None else "after its end"
            raise Refusal("no-such-moment", f"That moment is not in this run: it is before zero or {late}.")
        return Situation(live.prepared, live.past.at(at_s), at_s)

    # What is stored

    def lengthened(self, run: int, logged: Sequence[Logged]) -> None:
        """A run's log goes on by these events, which are on disk now."""
        if logged and run in self._runs:
            self._take_over(run, logged)
            self._tell(run, logged[-1].seq)

    def _take_over(self, run: int, logged: Sequence[Logged]) -> None:
        """Events that this server stored. Another one's may stand before them, or it has them already."""
        live = self._runs.get(run)
        if live is None:
            return
        with self._answered(run):
            with live.taking:
                if self._follows(live, logged[0]):
                    live.committed(logged)
                    return
            self._read_on(live)

    def _follows(self, live: LiveRun, first: Logged) -> bool:
        """Whether an event stands right after what is here. By its number it may, and yet after another one's."""
        known = live.head()
        if first.seq != known.state.seq + 1 or not self.store.shared:
            return first.seq == known.state.seq + 1
        return live.stored.origin is None and journal.as_after(known.chain, live.stored.run, first) == first

    def _catch_up_to(self, run: int, seq: int) -> None:
        """What was answered before may be stored unknown to this server: the answer to its COMMIT was lost."""
        live = self._runs.get(run)
        if self.store.shared and live is not None and live.state.seq < seq:
            with self._answered(run):
                self.catch_up(run)

    @contextmanager
    def _answered(self, run: int) -> Iterator[None]:
        """Whatever happens to the run in memory, an order in it is stored, and who sent it is to be answered."""
        try:
            yield
        except RunDamaged as fault:
            logger.warning("%s", fault)
        except StoreFault as fault:
            logger.warning("run %s is not as it is stored yet: %s", run, fault)
            self.behind.add(run)
        except Exception:
            logger.exception("run %s is not as it is stored yet", run)
            self.behind.add(run)

    def catch_up(self, run: int) -> None:
        """Take over what another server stored in a run, and tell who looks at it.

        Raises:
            StoreFault: it can't be read; the run is `behind`, to be tried again.
        """
        live = self._runs.get(run)
        if live is None:
            self._tell(run, 0)
            return
        self.behind.add(run)
        found = self._read_on(live)
        self.behind.discard(run)
        if not found:
            return
        self._tell(run, found[-1].seq)
        if any(isinstance(each.event, ClockStepped) for each in found):
            self.store.look_at_clock()  # It has stepped for this server too, which may not know it yet.

    def catch_up_all(self) -> None:
        """The same in every run, and in the lists: news may have been missed. Raises StoreFault."""
        self.behind |= self._runs.keys()
        for run in tuple(self._runs):
            try:
                self.catch_up(run)
            except RunDamaged as fault:  # The others are not to wait for it.
                logger.warning("%s", fault)
        self.tell_of_lists()

    def tell_of_lists(self) -> None:
        """Another server has put a run or a procedure into the lists."""
        self._tell(ALL_RUNS, 0)

    def _read_on(self, live: LiveRun) -> Sequence[Logged]:
        """Take over what follows in the stored log. Returns it."""
        run = live.stored.run
        try:
            with damage_told(damage_words(run)), live.taking:
                known = live.head()
                seq = known.state.seq
                found = self.store.read(lambda conn: journal.read(conn, run, max(0, seq - 1)))
                if seq and found and found[0].chain == known.chain:
                    del found[0]
                elif seq:
                    return self._read_anew(run)
                if found:
                    live.committed(found)
                return found
        except RunDamaged:
            self._give_up(run)
            raise

    def _give_up(self, run: int) -> None:
        """It is damaged: to read it again would find the same."""
        self._damaged.add(run)
        self.behind.discard(run)

    def _read_anew(self, run: int) -> Sequence[Logged]:
        """The log is another one now: a copy of the database that lacked its last entries has taken its place."""
        logger.warning("the log of run %s is not the one that was here: it is read anew", run)
        try:
            fresh = self._runs[run] = read_run(self.store, self.shelf, self._steps.clock_of, run)
        except NoSuchRun:
            del self._runs[run]
            return ()
        return fresh.log
