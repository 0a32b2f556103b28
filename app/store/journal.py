"""The log of a run: append, read, and what was answered to a key. It decides nothing and never changes a row.

The chain is `core.log_chain`: of an imported run it is over `origin.at_origin`, else over the run's own number.
"""

import gc
import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, insert, select, text

from app.core.events import VERSION, Event, Logged, body_of, canonical, event_from, kind_of
from app.core.log_chain import first_chain as first_chain
from app.core.log_chain import next_chain as next_chain
from app.store.faults import NoSuchRun, StoreFault
from app.store.holding import hold as hold
from app.store.stamps import read_stamp, rounded, stamp
from app.store.tables import EVENT, RECEIPT, RUN


@dataclass(frozen=True, slots=True)
class Entry:
    """An event on its way into the log, before it has a place there. Fields as in `Logged`."""

    event: Event
    at_s: int
    logged_s: int
    logged_at: datetime
    by: str
    station: str


@dataclass(frozen=True, slots=True)
class Receipt:
    """What was answered to a key.

    Attributes:
        sent: hex SHA-256 of what was sent with it.
        first_seq, last_seq: the events that came of it; both None where none did.
        answer: a JSON value.
    """

    key: str
    sent: str
    first_seq: int | None
    last_seq: int | None
    answer: Any


class KeyUsed(StoreFault):
    """This run already answered this key; nothing was appended. `receipt` is what it answered."""

    def __init__(self, receipt: Receipt) -> None:
        super().__init__(f"the key {receipt.key} was already answered")
        self.receipt = receipt


_RUN_ROW = select(RUN.c.run, RUN.c.revision, RUN.c.kind, RUN.c.zero_utc, RUN.c.started_at)
_HEAD = text("SELECT seq, chain FROM event WHERE run = :run ORDER BY seq DESC LIMIT 1")
_APPEND = insert(EVENT)
_KEEP = text(
    "INSERT INTO receipt (run, key, sent, first_seq, last_seq, answer) "
    "VALUES (:run, :key, :sent, :first_seq, :last_seq, :answer) ON CONFLICT (run, key) DO NOTHING"
)


def head(conn: Connection, run: int) -> tuple[int, str]:
    """The last seq and its chain; (0, the chain before the first event) for a run without events.

    Raises:
        NoSuchRun: there is no such run.
    """
    last = conn.execute(_HEAD, {"run": run}).first()
    return (0, start(conn, run)) if last is None else (last.seq, last.chain)


def start(conn: Connection, run: int) -> str:
    """The chain before the first event of a stored run.

    Raises:
        NoSuchRun: there is no such run.
    """
    row = conn.execute(_RUN_ROW.where(RUN.c.run == run)).mappings().first()
    if row is None:
        raise NoSuchRun(f"there is no run {run}")
    return first_chain({str(name): value for name, value in row.items()} | {"run": made_as(conn, run)})


def made_as(conn: Connection, run: int) -> int:
    """The number that a run had where it was made, over which its chain is. An older database has no imported runs."""
    if not has_origins(conn):
        return run
    found = conn.execute(_AT_ORIGIN, {"run": run}).first()
    return run if found is None else int(found[0])


def has_origins(conn: Connection) -> bool:
    """Whether the database has the table of where runs came from: one of an older Leadline has not."""
    if conn.dialect.name == "postgresql":
        return bool(conn.exec_driver_sql("SELECT to_regclass('origin') IS NOT NULL").scalar_one())
    found = "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'origin'"
    return conn.exec_driver_sql(found).first() is not None


_AT_ORIGIN = text("SELECT at_origin FROM origin WHERE run = :run")


def append(
    conn: Connection, run: int, entries: Sequence[Entry], key: str, sent: str, answer: Any
) -> tuple[Logged, ...]:
    """Store what one command led to, none or more events, and its receipt, in the caller's transaction.

    `seq` follows the last one of the run. That is only safe on the connection of the writer, which holds the run.

    Args:
        key: the sender's UUID. sent: hex SHA-256 of what was sent. answer: a JSON value.

    Raises:
        KeyUsed: the run has a receipt for this key already; nothing was stored.
        NoSuchRun: there is no such run.
        ValueError: an instant without a time zone, or a number that JSON has no form for.
    """
    hold(conn, run)
    seq, chain = head(conn, run)
    values = {"run": run, "key": key, "sent": sent, "answer": canonical(answer)}
    span = {"first_seq": seq + 1, "last_seq": seq + len(entries)} if entries else {"first_seq": None, "last_seq": None}
    if conn.execute(_KEEP, values | span).rowcount == 0:
        raise KeyUsed(_kept(conn, run, key))
    rows, logged = [], []
    for place, entry in enumerate(entries, start=seq + 1):
        row, one = _placed(run, place, key, chain, entry)
        chain = one.chain
        rows.append(row)
        logged.append(one)
    if rows:
        conn.execute(_APPEND, rows)
    return tuple(logged)


def _placed(run: int, seq: int, key: str, before: str, entry: Entry) -> tuple[dict[str, Any], Logged]:
    """The row of an entry at its place, and the same as a value."""
    at_s, logged_s, by, station = entry.at_s, entry.logged_s, entry.by, entry.station
    body = body_of(entry.event)
    row: dict[str, Any] = {"run": run, "seq": seq, "kind": kind_of(entry.event), "version": VERSION, "at_s": at_s}
    row |= {"logged_s": logged_s, "logged_at": stamp(entry.logged_at), "by": by, "station": station, "key": key}
    row |= {"chain": next_chain(before, row, body), "body": canonical(body)}
    at = rounded(entry.logged_at)
    return row, Logged(seq, at_s, logged_s, at, by, station, key, entry.event, row["chain"])


def as_after(before: str, run: int, logged: Logged) -> Logged:
    """An event of a run that was made here, as it would be in the log had the one before it this chain."""
    at = Entry(logged.event, logged.at_s, logged.logged_s, logged.logged_at, logged.by, logged.station)
    return _placed(run, logged.seq, logged.key, before, at)[1]


def receipt(conn: Connection, run: int, key: str) -> Receipt | None:
    """What this run answered to this key, if it ever did."""
    found = conn.execute(_RECEIPT, {"run": run, "key": key}).first()
    if found is None:
        return None
    stored_key, sent, first_seq, last_seq, answer = found
    return Receipt(stored_key, sent, first_seq, last_seq, json.loads(answer))


def started_with(conn: Connection, key: str) -> tuple[int, Receipt] | None:
    """The run that was started with this key and what was answered to it, if there is one."""
    found = conn.execute(_STARTED.where(RECEIPT.c.key == key)).first()
    return None if found is None else (found[0], Receipt(*found[1:-1], answer=json.loads(found.answer)))


_RECEIPT = text("SELECT key, sent, first_seq, last_seq, answer FROM receipt WHERE run = :run AND key = :key")


_STARTED = (
    select(RUN.c.run, RECEIPT.c.key, RECEIPT.c.sent, RECEIPT.c.first_seq, RECEIPT.c.last_seq, RECEIPT.c.answer)
    .join_from(RUN, RECEIPT, RECEIPT.c.run == RUN.c.run)  # by way of the few runs: receipts are keyed by run first
    .where(RECEIPT.c.first_seq == 1)
)


def _kept(conn: Connection, run: int, key: str) -> Receipt:
    found = receipt(conn, run, key)
    assert found is not None, "the receipt that stood in the way is in this transaction's view"
    return found


_SHAPE = (EVENT.c.seq, EVENT.c.at_s, EVENT.c.logged_s, EVENT.c.logged_at, EVENT.c.by, EVENT.c.station, EVENT.c.key)
_WHAT = (EVENT.c.kind, EVENT.c.version, EVENT.c.body)
_LOG = select(*_WHAT, EVENT.c.chain, *_SHAPE).order_by(EVENT.c.seq)


def read(conn: Connection, run: int, after: int = 0) -> list[Logged]:
    """The events of a run with a seq above `after`, in order; none if there is no such run.

    Raises:
        UnknownEvent: the log holds an event that this Leadline does not know.
        ValueError: a stored row is damaged.
    """
    with _no_collecting():
        result = conn.execute(_LOG.where(EVENT.c.run == run, EVENT.c.seq > after))
        # The driver's plain tuples: half the time of SQLAlchemy's rows, and these columns need no conversion.
        rows = result.cursor.fetchall() if result.cursor is not None else []
        result.close()
        whats = [row[:3] for row in rows]
        known = _events(set(whats))
        return [
            Logged(seq, at_s, logged_s, read_stamp(at), by, station, key, known[what], chain)
            for what, (_, _, _, chain, seq, at_s, logged_s, at, by, station, key) in zip(whats, rows, strict=True)
        ]


def _events(wanted: set[tuple[str, int, str]]) -> dict[tuple[str, int, str], Event]:
    """Each different event once: they are frozen, so equal ones may be the same.

    The bodies are read as one JSON array, which is several times quicker than one by one.
    """
    whats = list(wanted)
    bodies = json.loads(f"[{','.join(body for _, _, body in whats)}]")
    return {what: event_from(what[0], what[1], body) for what, body in zip(whats, bodies, strict=True)}


@contextmanager
def _no_collecting() -> Iterator[None]:
    """Hold the cycle collector back while many small values are made; it would walk them all again and again."""
    if not gc.isenabled():
        yield
        return
    gc.disable()
    try:
        yield
    finally:
        gc.enable()
