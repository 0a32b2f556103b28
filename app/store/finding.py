"""Runs looked for by what their rows say and by who signed in their logs. It folds no log."""

from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import ColumnElement, Connection, func, or_, select, text

from app.store.library import RUNS, StoredRun, stored_run
from app.store.tables import EVENT, REVISION, RUN


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a run must have to be found; what is empty or None is not asked for.

    Attributes:
        procedure: its id. revision: a hash or the beginning of one. kind: ``live`` or ``rehearsal``.
        first, last: days of UTC, in which its zero is.
        signed_by, revisions: None, or the run must have an event signed by one of these names, or be of one of these
            revisions.
    """

    procedure: str = ""
    revision: str = ""
    kind: str = ""
    first: date | None = None
    last: date | None = None
    signed_by: tuple[str, ...] | None = None
    revisions: tuple[str, ...] = ()


def find(conn: Connection, wanted: Wanted, first: int, most: int) -> tuple[tuple[StoredRun, ...], int]:
    """Runs, the newest first, from place `first` (0 ...) on, at most so many; and how many there are in all.

    Raises:
        ValueError, TypeError: a row is damaged.
    """
    held = _conditions(wanted)
    number = conn.execute(select(func.count()).select_from(RUN).where(*held)).scalar_one()
    rows = conn.execute(RUNS.where(*held).order_by(RUN.c.run.desc()).offset(first).limit(most))
    return tuple(stored_run(row) for row in rows), int(number)


def _conditions(wanted: Wanted) -> list[ColumnElement[bool]]:
    held: list[ColumnElement[bool]] = []
    if wanted.procedure:
        held.append(RUN.c.revision.in_(select(REVISION.c.hash).where(REVISION.c.procedure == wanted.procedure)))
    if wanted.revision:
        held.append(RUN.c.revision.startswith(wanted.revision.lower(), autoescape=True))
    if wanted.kind:
        held.append(RUN.c.kind == wanted.kind)
    # Stamps are texts of one length, in UTC, so they stand in order of time.
    if wanted.first is not None:
        held.append(RUN.c.zero_utc >= wanted.first.isoformat())
    if wanted.last is not None and wanted.last < date.max:
        held.append(RUN.c.zero_utc < (wanted.last + timedelta(days=1)).isoformat())
    if wanted.signed_by is not None:
        signed = RUN.c.run.in_(select(EVENT.c.run).where(EVENT.c.by.in_(wanted.signed_by)))
        held.append(or_(signed, RUN.c.revision.in_(wanted.revisions)))
    return held


def signers(conn: Connection) -> tuple[str, ...]:
    """Everybody who signed an event of any run, in order. It steps from name to name by the index, not over events."""
    return tuple(str(row[0]) for row in conn.execute(_SIGNERS))


_SIGNERS = text(
    'WITH RECURSIVE each_one(name) AS (SELECT min("by") FROM event UNION ALL '
    'SELECT (SELECT min("by") FROM event WHERE "by" > name) FROM each_one WHERE name IS NOT NULL) '
    "SELECT name FROM each_one WHERE name IS NOT NULL"
)


def performed(conn: Connection) -> tuple[tuple[str, str, str], ...]:
    """(hash, procedure id, title) of each revision of which there is a run, by title, the last loaded first."""
    of_runs = select(RUN.c.revision).distinct()
    wanted = select(REVISION.c.hash, REVISION.c.procedure, REVISION.c.title).where(REVISION.c.hash.in_(of_runs))
    rows = conn.execute(wanted.order_by(REVISION.c.title, REVISION.c.loaded_at.desc()))
    return tuple((row.hash, row.procedure, row.title) for row in rows)
