"""Rehearsals begun from a script, and whole ones that simulated people have done. It serves nothing.

A whole one is made in memory (`simulated`) and stored in one transaction: it is the run that `players` would have led
to, order for order, but in the time that it takes to reckon it.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from sqlalchemy import Connection

from app.core.decide import decide
from app.core.script import TRAINER, Script, first_orders
from app.core.situation import Situation
from app.core.state import State
from app.core.suppose import suppose
from app.service import news
from app.service.players import STATION
from app.service.runs import Service
from app.service.shelf import Shelf
from app.service.values import RunAsked, Sender, event_json, sent_hash
from app.store import journal, library
from app.store.clock import ServerClock, wall_clock
from app.store.store import Store

if TYPE_CHECKING:  # With it comes numpy, which nothing here needs.
    from app.core.simulated import Ordered, Simulated

NewKey = Callable[[], str]


@dataclass
class SetClock:
    """Two clocks that stand until they are set; both show the same progress since `begun`."""

    begun: datetime
    at_s: float = 0

    def utc(self) -> datetime:
        return self.begun + timedelta(seconds=self.at_s)

    def monotonic(self) -> float:
        return self.at_s

    def server(self) -> ServerClock:
        """Of no boot: its progress says nothing to the server that shows the run."""
        return ServerClock(self.utc, self.monotonic, lambda: "")


def begin(store: Store, data: bytes, source: str, script: Script, seed: int, new_key: NewKey) -> int:
    """Load a procedure file and start a rehearsal of it by the script, whose zero is now. Returns the run's number.

    Raises:
        Refused: the file has faults. Refusal: an order of the script can't be carried out; no run was started.
        StoreFault: it could not be stored.
    """
    service = Service(store, SetClock(wall_clock()).server())
    loaded = service.shelf.load(data, source)
    orders = tuple(first_orders(loaded.prepared, script, seed))
    situation = Situation(loaded.prepared, State(kind="rehearsal"), 0)
    for command in orders:
        situation = suppose(situation, decide(situation, command, 0))

    def sender() -> Sender:
        return Sender(TRAINER, "script", new_key())

    run = service.start_run(loaded.hash, "rehearsal", sender())
    for command in orders:
        service.order(run, command, sender()).result()
    return run


def keep(store: Store, shelf: Shelf, simulated: "Simulated", zero: datetime, new_key: NewKey) -> int:
    """Store a whole simulated run of a revision that the shelf has. Returns the run's number.

    Raises:
        NoSuchRevision: it has no such revision. StoreFault: it could not be stored.
    """
    started, revision = simulated.started, shelf.revision(simulated.started.revision)

    def entry(order: "Ordered") -> list[journal.Entry]:
        now = zero + timedelta(seconds=order.at_s)
        return [journal.Entry(event, order.at_s, order.at_s, now, order.by, STATION) for event in order.events]

    def job(conn: Connection) -> int:
        run = library.create_run(conn, revision.hash, started.kind, zero, zero)
        first = journal.Entry(started, 0, 0, zero, TRAINER, STATION)
        asked = RunAsked(revision.hash, started.kind, 0)
        journal.append(conn, run, [first], new_key(), sent_hash(asked), {"run": run})
        seq = 1
        for order in simulated.orders:
            told = [
                {"seq": seq + place, **event_json(event, order.at_s)} for place, event in enumerate(order.events, 1)
            ]
            seq += len(told)
            answer = {"seq": seq, "events": told}
            journal.append(conn, run, entry(order), new_key(), sent_hash(order.command), answer)
        store.tell(conn, news.of_run(run))
        return run

    return store.write(job).result()
