"""The library of revisions, and the list of runs, as frozen values. It reads no procedure and no clock."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, func, insert, select, text

from app.store.faults import NoSuchRevision, NoSuchRun
from app.store.holding import NEW_RUN, hold
from app.store.stamps import read_stamp, stamp
from app.store.tables import ORIGIN, REVISION, RUN

HASH_LENGTH = 64
LEAST_PREFIX = 4
"""Fewer signs of a hash than this name nothing in particular (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class StoredRevision:
    """A procedure text as it was loaded. `hash` is the hex SHA-256 of its UTF-8 bytes, `source` a file name."""

    hash: str
    procedure: str
    title: str
    text: str
    source: str
    loaded_at: datetime


@dataclass(frozen=True, slots=True)
class Origin:
    """Where an imported run came from: its number there, when and by whom it was imported, from what file."""

    run: int
    imported_at: datetime
    by: str
    source: str


@dataclass(frozen=True, slots=True)
class StoredRun:
    """A run as it was created. `kind` is ``live`` or ``rehearsal``; the instants are UTC, to the millisecond.

    `origin`: of a run that was made elsewhere and imported; None for one that was made here.
    """

    run: int
    revision: str
    kind: str
    zero_utc: datetime
    started_at: datetime
    origin: Origin | None = None


def hash_of(said: str) -> str:
    """Hex SHA-256 of the UTF-8 bytes.

    Raises:
        UnicodeEncodeError: the text holds a lone surrogate.
    """
    return hashlib.sha256(said.encode("utf-8")).hexdigest()


_PUT = text(
    "INSERT INTO revision (hash, procedure, title, text, source, loaded_at) "
    "VALUES (:hash, :procedure, :title, :text, :source, :loaded_at) ON CONFLICT (hash) DO NOTHING"
)


def put(conn: Connection, said: str, procedure_id: str, title: str, source: str, now: datetime) -> tuple[str, bool]:
    """Store a procedure text. The same text twice changes nothing, whatever its file was called.

    Returns:
        Its hash, and whether it is new.
    """
    name = hash_of(said)
    values = {"hash": name, "procedure": procedure_id, "title": title, "text": said, "source": source}
    return name, conn.execute(_PUT, values | {"loaded_at": stamp(now)}).rowcount == 1


def get(conn: Connection, prefix: str) -> StoredRevision:
    """The revision of a hash, or of an unambiguous beginning of one, four signs or more.

    Raises:
        NoSuchRevision: none, or several, begin with it.
    """
    start = prefix.strip().lower()
    wanted = select(REVISION).where(REVISION.c.hash.startswith(start, autoescape=True)).limit(2)
    # SQLite takes a longer text in an address for a pattern that is too complex, which is an error.
    found = conn.execute(wanted).all() if LEAST_PREFIX <= len(start) <= HASH_LENGTH else []
    if len(found) > 1:
        raise NoSuchRevision(f"more than one revision begins with {start}: give more of its hash")
    if not found:
        raise NoSuchRevision(f"no revision in the library begins with {prefix.strip()[:64]!r}")
    return _revision(found[0])


def revisions(conn: Connection) -> tuple[StoredRevision, ...]:
    """All revisions, the last loaded first."""
    rows = conn.execute(select(REVISION).order_by(REVISION.c.loaded_at.desc(), REVISION.c.hash))
    return tuple(_revision(row) for row in rows)


def create_run(conn: Connection, revision: str, kind: str, zero_utc: datetime, started_at: datetime) -> int:
    """Open a run of a stored revision.

    Returns:
        Its number: 1, 2, 3 ...

    Raises:
        NoSuchRevision: the library does not hold this hash (all 64 signs of it).
    """
    if conn.execute(select(REVISION.c.hash).where(REVISION.c.hash == revision)).first() is None:
        raise NoSuchRevision(f"no revision in the library has the hash {revision[:64]!r}")
    values = {"revision": revision, "kind": kind, "zero_utc": stamp(zero_utc), "started_at": stamp(started_at)}
    return insert_run(conn, values)


def insert_run(conn: Connection, values: Mapping[str, Any]) -> int:
    """Store the row of a run, all but its number. Returns that: the next after the largest."""
    hold(conn, NEW_RUN)
    run = int(conn.execute(_NEXT).scalar_one())
    conn.execute(insert(RUN), {**values, "run": run})
    return run


_NEXT = select(func.coalesce(func.max(RUN.c.run), 0) + 1)


RUNS = select(RUN, ORIGIN.c.at_origin, ORIGIN.c.imported_at, ORIGIN.c.by, ORIGIN.c.source).outerjoin(
    ORIGIN, ORIGIN.c.run == RUN.c.run
)
"""Runs with where they came from, for `stored_run`."""


def runs(conn: Connection) -> tuple[StoredRun, ...]:
    """All runs, the newest first."""
    return tuple(stored_run(row) for row in conn.execute(RUNS.order_by(RUN.c.run.desc())))


def run(conn: Connection, number: int) -> StoredRun:
    """One run.

    Raises:
        NoSuchRun: there is none of this number.
    """
    # SQLite's integers end at 63 bits, and a larger one from an address bar is no error of the database.
    row = conn.execute(RUNS.where(RUN.c.run == number)).first() if abs(number) < 2**63 else None
    if row is None:
        raise NoSuchRun(f"there is no run {number}")
    return stored_run(row)


def _revision(row: Row[Any]) -> StoredRevision:
    return StoredRevision(row.hash, row.procedure, row.title, row.text, row.source, read_stamp(row.loaded_at))


def stored_run(row: Row[Any]) -> StoredRun:
    """A row of `RUNS`. Raises ValueError, TypeError: it is damaged."""
    origin = None
    if row.at_origin is not None:
        origin = Origin(row.at_origin, read_stamp(row.imported_at), row.by, row.source)
    return StoredRun(row.run, row.revision, row.kind, read_stamp(row.zero_utc), read_stamp(row.started_at), origin)
