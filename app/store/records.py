"""A run's rows whole: out as they are stored, in as they were stored elsewhere. It checks no chain and mends nothing.

An imported run has a number of its own here; its chain is over the number that it had where it was made, which the
table `origin` keeps. Neither its row nor an event is otherwise changed on the way.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, insert, select

from app.core.events import canonical
from app.store.faults import NoSuchRun
from app.store.journal import made_as
from app.store.library import hash_of, insert_run
from app.store.stamps import stamp
from app.store.tables import EVENT, ORIGIN, RECEIPT, RUN

Columns = Mapping[str, Any]

RUN_COLUMNS = ("run", "revision", "kind", "zero_utc", "started_at")
EVENT_COLUMNS = (
    *("seq", "kind", "version", "body", "at_s", "logged_s"),
    *("logged_at", "by", "station", "key", "chain"),
)
"""All but the number of the run. In a record the body is a JSON value, in the table it is canonical JSON."""

SENT = hash_of("imported")
"""What the receipts of imported commands say was sent: what it was is kept where the run was made."""


@dataclass(frozen=True, slots=True)
class Record:
    """A run and its log. `row` has RUN_COLUMNS with the number at the origin, `events` EVENT_COLUMNS, from seq 1 on."""

    row: Columns
    events: Sequence[Columns]


@dataclass(frozen=True, slots=True)
class Brought:
    """Who imported a run, when, and from a file of what name."""

    at: datetime
    by: str
    source: str


def record(conn: Connection, run: int) -> Record:
    """All that is stored of a run, as it is stored.

    Raises:
        NoSuchRun: there is no such run. ValueError: a body is damaged.
    """
    found = conn.execute(select(*(RUN.c[name] for name in RUN_COLUMNS)).where(RUN.c.run == run)).mappings().first()
    if found is None:
        raise NoSuchRun(f"there is no run {run}")
    wanted = select(*(EVENT.c[name] for name in EVENT_COLUMNS)).where(EVENT.c.run == run).order_by(EVENT.c.seq)
    events = [{**row, "body": json.loads(row["body"])} for row in conn.execute(wanted).mappings()]
    return Record({**found, "run": made_as(conn, run)}, events)


def same_run(conn: Connection, row: Columns) -> int | None:
    """The number here of the run that has this row at its origin; None if it is not here."""
    same = [RUN.c[name] == row[name] for name in RUN_COLUMNS[1:]]
    found = conn.execute(select(RUN.c.run).where(*same).order_by(RUN.c.run)).scalars()
    return next((int(run) for run in found if made_as(conn, run) == row["run"]), None)


def is_imported(conn: Connection, run: int) -> bool:
    return conn.execute(select(ORIGIN.c.run).where(ORIGIN.c.run == run)).first() is not None


def take(conn: Connection, found: Record, brought: Brought) -> int:
    """Store a run that was made elsewhere, whose revision is here. Returns its number here.

    Raises:
        sqlalchemy.exc.IntegrityError: a row can't be stored; nothing of it is, if the caller's transaction ends.
    """
    values = {name: found.row[name] for name in RUN_COLUMNS[1:]}
    run = insert_run(conn, values)
    origin = {"run": run, "at_origin": found.row["run"], "imported_at": stamp(brought.at)}
    conn.execute(insert(ORIGIN), origin | {"by": brought.by, "source": brought.source})
    lengthen(conn, run, found.events)
    return run


def lengthen(conn: Connection, run: int, events: Sequence[Columns]) -> None:
    """Store events that follow the last one of an imported run, each command with its receipt."""
    if not events:
        return
    conn.execute(insert(RECEIPT), list(_receipts(run, events)))
    conn.execute(insert(EVENT), [{**event, "run": run, "body": canonical(event["body"])} for event in events])


def _receipts(run: int, events: Iterable[Columns]) -> Iterable[dict[str, Any]]:
    spans: dict[str, tuple[int, int]] = {}
    for event in events:
        first, _ = spans.get(event["key"], (event["seq"], 0))
        spans[event["key"]] = (first, event["seq"])
    for key, (first, last) in spans.items():
        yield {"run": run, "key": key, "sent": SENT, "first_seq": first, "last_seq": last, "answer": canonical(None)}
