"""Whether a database is sound: its file, the guards of its tables, and the log of each run. It mends nothing."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy import Connection, select

from app.reading.procedure_reader import read_procedure
from app.store import postgres_guards
from app.store.faults import printable
from app.store.journal import has_origins
from app.store.stamps import read_stamp
from app.store.tables import REVISION
from app.store.verifying import UNREADABLE, Verified, inner_words, raise_if_held, text_fault, verify

GUARDED = ("revision", "run", "receipt", "event")
"""The tables of the record that each Leadline has had. `origin` came later, and is guarded where it is."""


@dataclass(frozen=True, slots=True)
class Soundness:
    """What was looked at.

    Attributes:
        runs: of each run, by number, what the walk along its chain found.
        file: faults of the database as a whole, in words without their full stop.
        guards: triggers that should be there and are not, or not as they were made, or should not be there.
    """

    runs: dict[int, Verified]
    file: tuple[str, ...] = ()
    guards: tuple[str, ...] = ()

    @property
    def events(self) -> int:
        return sum(found.events for found in self.runs.values())

    def faults(self) -> tuple[str, ...]:
        """All of them, in words."""
        runs = (f"Run {run}: {found.fault}" for run, found in self.runs.items() if found.fault)
        return (*self.file, *runs, *guard_words(self.guards))


def soundness(conn: Connection) -> Soundness:
    """Look at everything.

    Raises:
        StoreFailed: somebody holds the database; nothing can be said.
    """
    return Soundness({run: verify(conn, run) for run in run_numbers(conn)}, file_faults(conn), lost_guards(conn))


def run_numbers(conn: Connection) -> tuple[int, ...]:
    """The numbers of the runs that can be found, in order.

    Raises:
        StoreFailed: somebody holds the database.
    """
    try:
        return tuple(int(row[0]) for row in conn.exec_driver_sql("SELECT run FROM run ORDER BY run"))
    except UNREADABLE as error:
        raise_if_held(error)
        return ()


def file_faults(conn: Connection) -> tuple[str, ...]:
    """What is wrong with the file, or with what belongs to no run.

    Raises:
        StoreFailed: somebody holds the database.
    """
    found: list[str] = []
    try:
        found.extend(printable(fault) for fault in _file_faults(conn))
    except UNREADABLE as error:
        raise_if_held(error)
        found.append(f"the file can't be read to its end ({printable(inner_words(error))})")
    return tuple(found)


def _file_faults(conn: Connection) -> Iterator[str]:
    if conn.dialect.name == "sqlite":  # Another database keeps its files, and what belongs together, by itself.
        said = str(conn.exec_driver_sql("PRAGMA integrity_check(1)").scalar())
        if said != "ok":
            yield f"the file is damaged ({said})"
        loose = conn.exec_driver_sql("PRAGMA foreign_key_check").first()
        if loose is not None:
            yield f"the table {loose[0]} has a row that belongs to no row of {loose[2]}"
    runs = run_numbers(conn)
    if runs and runs[0] < 1:
        yield f"there is a run {runs[0]}: runs are numbered from 1"
    missing = sorted(set(range(1, max(runs, default=0))) - set(runs))
    if missing:
        yield f"run {missing[0]} is missing: runs are numbered without a gap"
    for (revision,) in conn.exec_driver_sql("SELECT hash FROM revision").all():
        if fault := text_fault(conn, revision) or _label_fault(conn, revision):
            yield fault


def _label_fault(conn: Connection, revision: str) -> str | None:
    """What a revision is listed under and its text, of which the hash is, must say the same.

    A text that this Leadline does not read was sound for an older one. The name of its file is in no text.
    """
    said = select(REVISION.c.procedure, REVISION.c.title, REVISION.c.text, REVISION.c.loaded_at)
    procedure, title, text, loaded_at = conn.execute(said.where(REVISION.c.hash == revision)).one()
    try:
        read_stamp(loaded_at)
    except ValueError:
        return f"when the revision {revision[:12]}… was loaded was changed: it is no time"
    read = read_procedure(text).procedure
    if read is None or (read.id, read.title) == (procedure, title):
        return None
    return f"the revision {revision[:12]}… is listed under another name or title than its text has"


def lost_guards(conn: Connection) -> tuple[str, ...]:
    """The triggers against changing rows that are missing or not as they were made, and those that are none of ours.

    Raises:
        StoreFailed: somebody holds the database.
    """
    wanted = _guards(GUARDED)
    try:
        if has_origins(conn):
            wanted |= _guards(("origin",))
        if conn.dialect.name == "postgresql":
            return postgres_guards.lost_guards(conn, tuple({table: None for _, table in wanted.values()}))
        rows = conn.exec_driver_sql("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").all()
        kept = {name: str(sql) for name, sql in rows}
        lost = tuple(name for name, of in wanted.items() if not _refuses(kept.get(name, ""), name, *of))
        return (*lost, *(str(name) for name in kept if name not in wanted))
    except UNREADABLE as error:
        raise_if_held(error)
        return tuple(wanted)


def _guards(tables: tuple[str, ...]) -> dict[str, tuple[str, str]]:
    return {f"{table}_no_{act.lower()}": (act, table) for table in tables for act in ("UPDATE", "DELETE")}


def _refuses(sql: str, name: str, act: str, table: str) -> bool:
    """Whether it refuses every such change, in whatever words."""
    made = f"CREATE TRIGGER {name} BEFORE {act} ON {table} BEGIN SELECT RAISE(ABORT, '"
    return re.fullmatch(re.escape(made) + r"[^']*'\); END", sql) is not None


def guard_words(lost: tuple[str, ...]) -> tuple[str, ...]:
    """What `lost_guards` found as one sentence; none if it found nothing."""
    if not lost:
        return ()
    return (f"the guards against changing rows were taken out of this database, or others put in: {', '.join(lost)}",)
