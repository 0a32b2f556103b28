"""Runs: load, fold, decide, append, tell. The one way in for every page, the API and the command line.

It renders nothing and knows no HTTP.
"""

import asyncio
import math
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import suppress
from datetime import timedelta
from threading import Lock
from typing import TypeVar
from uuid import NAMESPACE_OID, uuid5

from sqlalchemy import Connection

from app.core.commands import Command, Refusal
from app.core.decide import HEARD, decide
from app.core.events import ClockStepped, Event, Logged, RunStarted
from app.core.fold import fold
from app.core.marking import not_reopened_since
from app.core.situation import Situation
from app.core.state import State
from app.core.times import instant
from app.service import news
from app.service.held import Held
from app.service.live_run import Head, LiveRun, head_in
from app.service.said_at import SaidAt
from app.service.values import KINDS, Outcome, Refused, RunAsked, Sender, event_json, sent_hash
from app.store import journal, library
from app.store.clock import ServerClock
from app.store.faults import RunDamaged
from app.store.holding import NEW_RUN
from app.store.store import Store

T = TypeVar("T")

IMPORTED = (
    "This run was imported: it is the record of one that was made elsewhere, and nothing is entered in it here. "
    "Enter it where the run was made."
)


class Service(Held):
    """All that can be asked of Leadline. Writes return futures that are done only after the commit."""

    def __init__(self, store: Store, clock: ServerClock | None = None) -> None:
        super().__init__(store, clock)
        self._arriving = Lock()

    def start_run(self, revision: str, kind: str, sender: Sender, running_s: float = 0) -> int:
        """Open a run whose zero was `running_s` seconds ago, and log its beginning. The same key is the same run.

        Raises:
            NoSuchRevision: there is no such revision.
            Refusal: an unknown kind, a zero in the future, or a key that started something else.
        """
        if kind not in KINDS:
            raise Refusal("unknown-kind", f"A run is live or a rehearsal, not {kind[:40]!r}.")
        if not 0 <= running_s < 1000 * 3600:
            raise Refusal("bad-time", "The clock starts now, or started less than 1,000 hours ago.")
        stored = self.shelf.revision(revision)
        zero_s = self.clock.monotonic() - running_s
        zero = self.clock.steady_utc() - timedelta(seconds=running_s)
        begun = RunStarted(stored.hash, kind, instant(zero))
        sent = sent_hash(RunAsked(revision, kind, running_s))

        def job(conn: Connection) -> tuple[int, bool]:
            journal.hold(conn, NEW_RUN)
            known = journal.started_with(conn, sender.key)
            if known is not None:
                return _same(known[0], known[1].sent, sent), False
            now = self.clock.utc()
            run = library.create_run(conn, stored.hash, kind, zero, now)
            entry = journal.Entry(begun, 0, math.floor(running_s), now, sender.by, sender.station)
            journal.append(conn, run, [entry], sender.key, sent, {"run": run})
            self.store.tell(conn, news.of_run(run))
            return run, True

        run, is_new = self.store.write(job).result()
        if is_new:
            self._steps.begun(run, zero, zero_s)
        return run

    # Orders

    def order(
        self,
        run: int,
        command: Command,
        sender: Sender,
        at: str | int | None = None,
        pressed_s: int | None = None,
    ) -> Future[Outcome]:
        """Carry out a command at a moment as it was said (see `commands.moment`), or now.

        The future is done after the commit. It raises Refusal when it may not be done, StoreFault when it could not be
        stored. "2 min ago" sent twice with one key is one press, though it is another second each time.

        `pressed_s`: the elapsed second at which the station says it was pressed, where it was kept there until now.
        For what may be entered late it stands in place of now. It is no part of what was sent: the first try of the
        same press had none.

        Raises:
            NoSuchRun: there is none. Refusal: it was imported.
        """
        live = self.run(run)
        if live.stored.origin is not None:
            raise Refusal("imported", IMPORTED)
        sent = sent_hash(command, at)
        said = SaidAt(at, pressed_s if isinstance(command, HEARD) else None, sent)
        future = self._write(live, lambda conn, now_s: self._carry_out(conn, live, command, sender, said, now_s))
        done: Future[Outcome] = Future()
        done.set_running_or_notify_cancel()  # Who gives up waiting cannot cancel it: the screens must still be told.
        future.add_done_callback(lambda finished: self._finish(live, finished, done))
        return done

    def _write(self, live: LiveRun, job: Callable[[Connection, int], T]) -> Future[T]:
        """Hand a job to the writer, with the elapsed second at which it arrived: that is its "now", however long the
        disk has others wait before it. Jobs are carried out in the order in which they arrived."""
        with self._arriving:
            arrived_s = max(0, math.floor(live.clock.elapsed_s()))
            return self.store.write(lambda conn: job(conn, arrived_s))

    def _carry_out(
        self, conn: Connection, live: LiveRun, command: Command, sender: Sender, said: SaidAt, now_s: int
    ) -> tuple[Outcome, tuple[Logged, ...]]:
        """In the writer thread, inside the transaction: decide on the state that the log has there, and append."""
        run = live.stored.run
        journal.hold(conn, run)
        known = journal.receipt(conn, run, sender.key)
        if known is not None:
            _same(run, known.sent, said.sent)
            return Outcome(known.answer["seq"], tuple(known.answer["events"]), True), ()
        state = self._working(conn, live)
        # It may have arrived while the clock was being set forward, or waited for another server's.
        now_s = max(now_s, state.rehearsal.ruling.to_s, live.working.logged_s)
        at_s = said.at_s(now_s, state.rehearsal.ruling.seq > 0)
        if said.pressed_s is not None:
            not_reopened_since(Situation(live.prepared, state, now_s), command, said.pressed_s)
        events = decide(Situation(live.prepared, state, now_s), command, at_s)
        return self._append(conn, live, state, events, sender, at_s, now_s, said.sent)

    def _append(
        self,
        conn: Connection,
        live: LiveRun,
        state: State,
        events: tuple[Event, ...],
        sender: Sender,
        at_s: int,
        now_s: int,
        sent: str,
    ) -> tuple[Outcome, tuple[Logged, ...]]:
        now = self.clock.utc()
        entries = [journal.Entry(event, at_s, now_s, now, sender.by, sender.station) for event in events]
        told = tuple({"seq": state.seq + 1 + place, **event_json(event, at_s)} for place, event in enumerate(events))
        seq = state.seq + len(events)
        answer = {"seq": seq, "events": list(told)}
        logged = journal.append(conn, live.stored.run, entries, sender.key, sent, answer)
        after = fold(logged, state)
        if after.rehearsal.ruling != state.rehearsal.ruling:
            self._steps.ruled(live.stored.run, after.rehearsal.ruling)
        if logged:
            live.working = Head(after, logged[-1].chain, now_s)
            self.store.tell(conn, news.of_run(live.stored.run))
        return Outcome(seq, told, False), logged

    def _working(self, conn: Connection, live: LiveRun) -> State:
        """The state at the head of the log as this transaction sees it."""
        live.working = head_in(conn, live)
        return live.working.state

    def _finish(
        self, live: LiveRun, finished: Future[tuple[Outcome, tuple[Logged, ...]]], done: Future[Outcome]
    ) -> None:
        """After the commit, in the writer thread: take the events over, answer, then tell the screens."""
        error = finished.exception()
        if error is not None:
            done.set_exception(error)
            return
        outcome, logged = finished.result()
        if logged:
            self._take_over(live.stored.run, logged)
        elif outcome.repeated:
            self._catch_up_to(live.stored.run, outcome.seq)
        done.set_result(outcome)
        if logged:
            self._tell(live.stored.run, outcome.seq)

    # Clock

    def watch_clock(self) -> int | None:
        """Log a step of the wall clock in every run that goes on.

        Returns:
            The step in milliseconds; None if there was none.

        Raises:
            StoreFault: it could not be stored; the next call tries again.
        """
        step_ms = self._take_step() if self.clock.has_stepped() else None
        if self._pace is not None:
            self._pace.follow((self.clock.utc() - self.clock.steady_utc()).total_seconds())
        for live in tuple(self._runs.values()):
            self._log_step(live)
        self._steps.keep()
        return step_ms

    def _take_step(self) -> int | None:
        """Every run is read before the clock takes the step: what is read later is counted from UTC as it is then."""
        for stored in self.runs():
            with suppress(Refused, RunDamaged):  # Its elapsed is shown to nobody.
                self.run(stored.run)
        return self.clock.step_ms()

    def _log_step(self, live: LiveRun) -> None:
        if live.stands_s is not None or self._unlogged_ms(live, live.state) is None:
            return
        if self.store.shared:
            self.store.look_at_clock()  # Another server may have found it first, and logged it.
        run, done = live.stored.run, Future[Outcome]()

        def job(conn: Connection, now_s: int) -> tuple[Outcome, tuple[Logged, ...]]:
            journal.hold(conn, run)
            state = self._working(conn, live)
            step_ms = self._unlogged_ms(live, state)
            if step_ms is None or state.ended_s is not None:
                return Outcome(state.seq, (), True), ()
            event = ClockStepped(step_ms)
            sender = Sender("Leadline", "server", str(uuid5(NAMESPACE_OID, f"step after {run} {state.seq}")))
            now_s = max(now_s, live.working.logged_s)
            return self._append(conn, live, state, (event,), sender, now_s, now_s, sent_hash(event))

        self._write(live, job).add_done_callback(lambda finished: self._finish(live, finished, done))
        done.result()

    def _unlogged_ms(self, live: LiveRun, state: State) -> int | None:
        return self._steps.unlogged_ms(live.stored.zero_utc, state, live.clock)


def _same(run: int, known: str, sent: str) -> int:
    """The run, when what was sent now is what was sent with this key before."""
    if known != sent:
        raise Refusal("key-reused", "This key was used for something else; send a new one.")
    return run


async def wait(future: Future[T]) -> T:
    """Wait for a write without holding up the event loop."""
    return await asyncio.wrap_future(future)
