"""Every row of one database copied into another that is empty, of either kind, and the copy checked. It opens neither.

The record, where imported runs came from, and the people with accounts. Sessions stay behind, as at a restore: whoever
holds the copy is nobody's station.
"""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from sqlite3 import Error as SqliteError

from sqlalchemy import Connection, Table, func, insert, select
from sqlalchemy.exc import DBAPIError

from app.store.backup import fault_of
from app.store.engine import driver, filling_engine, is_full
from app.store.faults import NotSafe
from app.store.migrate import newest, stands_at, upgrade
from app.store.place import make_private
from app.store.postgres_failures import words_of
from app.store.sound import run_numbers
from app.store.tables import EVENT, ORIGIN, PERSON, RECEIPT, REVISION, RUN
from app.store.verifying import text_fault, verify

TABLES = (REVISION, RUN, ORIGIN, RECEIPT, EVENT, PERSON)
"""In the order in which one may name rows of those before it."""

AT_ONCE = 1000
"""Rows held in memory. Our own choice."""


class CannotCopy(NotSafe):
    """What was to be copied is not sound, or where it was to go is not empty. Nothing was copied."""


@dataclass(frozen=True, slots=True)
class Copied:
    """What the copy holds, counted in it.

    Attributes:
        rows: of each table of `TABLES`, by its name.
        heads: of each run, by number: its last seq and the chain there.
    """

    rows: Mapping[str, int]
    heads: Mapping[int, tuple[int, str]]


def fill(source: Connection, target: Connection) -> Copied:
    """Copy all rows and check them where they are now, in the caller's transaction at the target.

    Args:
        source: a connection that sees one moment of a database whose tables are as new as the target's.
        target: a connection in a transaction, to a database with tables; to be rolled back if this raises.

    Raises:
        CannotCopy: the target holds rows, or what was copied is not sound or not all. sqlalchemy.exc.DBAPIError.
    """
    be_empty(target)
    for table in TABLES:
        _copy_rows(source, target, table)
    return _checked(source, target)


@contextmanager
def refusals() -> Iterator[None]:
    """Raises CannotCopy: one of the databases refused something within, or was lost."""
    try:
        yield
    except (DBAPIError, SqliteError) as error:
        said = "there is no room on that disk" if is_full(error) else words_of(error).rstrip(".")
        raise CannotCopy(f"The copy could not be made: {said}. Nothing of it was kept.") from error


def be_newest(source: Connection, migrations_dir: Path) -> None:
    """Raises CannotCopy: the tables are of an older Leadline, or there are none. ForeignDatabase: of a newer one."""
    stands, ours = stands_at(source, migrations_dir), newest(migrations_dir)
    if stands is None:
        raise CannotCopy("There is nothing to copy: the database has no tables of Leadline.")
    if stands != ours:
        raise CannotCopy(
            f"The tables to copy are of an older Leadline (they are at {stands}, this one's at {ours}). Start this "
            "Leadline on them once: that brings them up to date. A backup is first restored into a new folder."
        )


def be_empty(target: Connection) -> None:
    """Raises CannotCopy: there are rows."""
    held = {name: number for name, number in counted(target).items() if number}
    if held:
        what = ", ".join(f"{name} {number}" for name, number in held.items())
        raise CannotCopy(f"The database to copy to is not empty (rows: {what}). Nothing was copied. Name a new one.")


def counted(conn: Connection) -> dict[str, int]:
    """How many rows each table has."""
    return {each.name: conn.execute(select(func.count()).select_from(each)).scalar_one() for each in TABLES}


def to_file(source: Connection, file: Path, migrations_dir: Path) -> Copied:
    """Copy a database of either kind into an empty or new SQLite file, with no log beside it.

    Raises:
        CannotCopy: as `fill` raises it; the file is then worth nothing. sqlalchemy.exc.DBAPIError, sqlite3.Error.
    """
    make_private(file)
    engine = filling_engine(file)
    try:
        upgrade(engine, migrations_dir)
        with engine.connect() as target:
            with target.begin():
                copied = fill(source, target)
            if fault := fault_of(driver(target)):
                raise CannotCopy(f"The copy {file} is damaged ({fault}). Nothing of it was kept.")
    finally:
        engine.dispose()
    return copied


def _copy_rows(source: Connection, target: Connection, table: Table) -> None:
    rows = select(table).order_by(*table.primary_key.columns).execution_options(yield_per=AT_ONCE)
    with source.execute(rows) as result:
        for some in result.mappings().partitions():
            target.execute(insert(table), [dict(row) for row in some])


def _checked(source: Connection, target: Connection) -> Copied:
    rows, heads = counted(target), {}
    if rows != (wanted := counted(source)):
        raise CannotCopy(f"The copy has not every row ({rows} of {wanted}). Nothing was copied.")
    for (revision,) in target.execute(select(REVISION.c.hash)).all():
        if fault := text_fault(target, revision):
            raise CannotCopy(f"What was to be copied is not sound: {fault}. Nothing was copied.")
    for run in run_numbers(target):
        found = verify(target, run)
        if found.fault:
            raise CannotCopy(f"What was to be copied is not sound: run {run}: {found.fault}. Nothing was copied.")
        heads[run] = (found.events, found.head)
    if heads != _heads(source):
        raise CannotCopy("The logs of the copy do not end where those that were copied do. Nothing was copied.")
    return Copied(rows, heads)


def _heads(conn: Connection) -> dict[int, tuple[int, str]]:
    """The last seq of each run and the chain there, as they are stored."""
    last = select(EVENT.c.run, func.max(EVENT.c.seq).label("seq")).group_by(EVENT.c.run).subquery()
    both = (EVENT.c.run == last.c.run) & (EVENT.c.seq == last.c.seq)
    rows = conn.execute(select(EVENT.c.run, EVENT.c.seq, EVENT.c.chain).join(last, both))
    return {run: (seq, chain) for run, seq, chain in rows}
