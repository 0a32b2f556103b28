"""Enters what simulated people do, in every rehearsal that goes on, as ordinary orders. It decides nothing of it.

Each order is decided anew on the newest state, like anybody's, and has its own transaction. Nothing is kept here that
the log does not say, so a server that was started anew goes on from there. What was due while nobody looked, because
the clock went fast, was set forward, or no server was there, is entered late, at its own elapsed second.

Of several servers of one database one plays, and when it is gone another. What that one does after event number n has
the key that it would have had here, so what it did last, and nobody here has heard of yet, is not done again.
"""

import logging
from concurrent.futures import Future
from contextlib import suppress
from dataclasses import dataclass
from threading import Event
from typing import TYPE_CHECKING
from uuid import NAMESPACE_OID, uuid5

from app.core.commands import Command, Refusal
from app.core.commands_rehearsal import NoteInjectDone
from app.core.decide import HEARD
from app.core.situation import Situation
from app.service.held import ALL_RUNS
from app.service.live_run import LiveRun
from app.service.runs import Service
from app.service.values import Outcome, Refused, Sender
from app.store.faults import NoSuchRun, RunDamaged, StoreClosed, StoreFault
from app.store.playing import played

if TYPE_CHECKING:
    from app.core.simulating_cast import Act

logger = logging.getLogger(__name__)

STATION = "simulated"
TURN = "players"
MOST_AT_ONCE = 200
"""Orders for a run in one look at it; the next look goes on. Our own bound, so that one run does not hold up others."""


@dataclass(frozen=True, slots=True)
class _Coming:
    """What comes next in a run after event number `seq`."""

    seq: int
    acts: "tuple[Act, ...]"


class Players:
    """The simulated people of one server. `play` is called about once a second, from one thread at a time."""

    def __init__(self, service: Service) -> None:
        self._service = service
        self._stopped = Event()
        self._touched: set[int] = set()
        self._going: set[int] | None = None
        self._coming: dict[int, _Coming] = {}
        self._refused: dict[int, tuple[int, list[Command]]] = {}
        self._warned: set[tuple[int, str, str]] = set()
        service.listen(lambda run, _: self._touched.add(run))

    def stop(self) -> None:
        """Enter nothing more; an order that is on its way is the last one."""
        self._stopped.set()

    def play(self) -> None:
        """Enter all that is due by now, if it is this server's turn. What can't be entered is logged once, and left
        out."""
        try:
            if not self._service.store.turn(TURN):
                self._going = None
                return
            for run in self._runs():
                self._play(run)
        except StoreClosed:
            pass  # The server is stopping.
        except StoreFault as fault:
            logger.warning("simulated people have to wait: %s", fault)

    def _runs(self) -> tuple[int, ...]:
        """The runs that may have players: those found in the log at first, then each that something happened in."""
        if self._going is None or ALL_RUNS in self._touched:
            self._touched.discard(ALL_RUNS)
            self._going = set(self._service.store.read(played))
        while self._touched:
            self._going.add(self._touched.pop())
        return tuple(sorted(self._going))

    def _play(self, run: int) -> None:
        try:
            live = self._service.run(run)
        except (NoSuchRun, Refused, RunDamaged):
            self._leave(run)
            return
        if not live.state.rehearsal.players or live.state.ended_s is not None or live.stored.origin is not None:
            self._leave(run)  # Whoever sets players, or goes on otherwise, brings it back.
            return
        for _ in range(MOST_AT_ONCE):
            act = None if self._stopped.is_set() else self._due(run, live)
            if act is None:
                return
            self._enter(run, live, act)

    def _leave(self, run: int) -> None:
        if self._going is not None:
            self._going.discard(run)
        self._coming.pop(run, None)
        self._refused.pop(run, None)

    def _due(self, run: int, live: LiveRun) -> "Act | None":
        """The first that is due and was not refused as things stand."""
        now_s, refused = live.now_s(), self._refused.get(run, (-1, []))
        for act in self._acts(run, live):
            if act.at_s > now_s:
                return None
            if refused[0] != live.state.seq or act.command not in refused[1]:
                return act
        return None

    def _acts(self, run: int, live: LiveRun) -> "tuple[Act, ...]":
        """What comes next depends on the log alone, so it is worked out once for each of its states."""
        known, state = self._coming.get(run), live.state
        if known is None or known.seq != state.seq:
            from app.core.simulating import acts  # With numpy, which a server without simulated people need not load.

            known = self._coming[run] = _Coming(state.seq, acts(Situation(live.prepared, state, max(0, live.now_s()))))
        return known.acts

    def _enter(self, run: int, live: LiveRun, act: "Act") -> None:
        """At its own second where it may be entered late, else, or if that is refused, now."""
        seq, refusal = live.state.seq, None
        for at_s in (act.at_s, None) if isinstance(act.command, HEARD) else (None,):
            try:
                if self._order(run, act.command, act.signed, at_s).result().repeated:
                    self._service.catch_up(run)  # Another server did it, and is gone.
                break
            except Refusal as refused:
                refusal = refused
        else:
            assert refusal is not None
            self._note_refusal(run, seq, act, refusal)
            return
        if act.inject is not None:
            with suppress(Refusal):  # The trainer has noted or dropped it meanwhile.
                self._order(run, NoteInjectDone(act.inject), act.signed).result()

    def _order(self, run: int, command: Command, by: str, at_s: int | None = None) -> "Future[Outcome]":
        after = self._coming[run].seq
        key = uuid5(NAMESPACE_OID, f"played in {run} after {after}: {command!r} by {by} at {at_s}")
        return self._service.order(run, command, Sender(by, STATION, str(key)), at_s)

    def _note_refusal(self, run: int, seq: int, act: "Act", refusal: Refusal) -> None:
        """Until the run is another, it is not tried again."""
        known_seq, known = self._refused.get(run, (-1, []))
        self._refused[run] = (seq, [*(known if known_seq == seq else []), act.command])
        kind = type(act.command).__name__
        if (run, kind, refusal.code) not in self._warned:
            self._warned.add((run, kind, refusal.code))
            logger.warning("run %s: %s of %s was refused: %s", run, kind, act.signed, refusal)
