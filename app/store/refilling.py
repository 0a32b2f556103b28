"""Rows copied from one database into the new tables of another, one run's log only to an event. It checks nothing."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from sqlite3 import Connection as Driver

from sqlalchemy import Connection

from app.store.engine import FILE_NAME, driver, writer_engine
from app.store.migrate import stands_at, upgrade
from app.store.place import prepare


@dataclass(frozen=True, slots=True)
class Cut:
    """The run's log ends at event `seq`."""

    run: int
    seq: int


_KEPT = {
    "event": "run <> :run OR seq <= :seq",
    # A command that led to no event tells by its answer how far the log was then.
    "receipt": (
        "run <> :run OR CASE WHEN first_seq IS NOT NULL THEN last_seq <= :seq "
        "ELSE coalesce(CASE WHEN json_valid(answer) THEN json_extract(answer, '$.seq') END, 0) <= :seq END"
    ),
    "session": "false",
    "alembic_version": "false",  # The new tables have it already.
}


def last_seq(conn: Connection, run: int) -> int:
    """The seq of the last event of a run; 0 if there is none."""
    return int(conn.exec_driver_sql("SELECT coalesce(max(seq), 0) FROM event WHERE run = ?", (run,)).scalar_one())


def command_around(conn: Connection, run: int, seq: int) -> tuple[int, int]:
    """The first and last seq of the command that an event came of, as its receipt has it."""
    said = (
        "SELECT first_seq, last_seq FROM receipt "
        "WHERE run = :run AND key = (SELECT key FROM event WHERE run = :run AND seq = :seq)"
    )
    found = conn.exec_driver_sql(said, {"run": run, "seq": seq}).first()
    return (seq, seq) if found is None else (int(found[0]), int(found[1]))


def stepped_ms(conn: Connection, cut: Cut, until: int) -> int:
    """The sum of the wall clock's steps after the cut, as far as event `until`."""
    said = (
        "SELECT coalesce(sum(json_extract(body, '$.step_ms')), 0) FROM event "
        "WHERE run = ? AND seq > ? AND seq <= ? AND kind = 'ClockStepped'"
    )
    return int(conn.exec_driver_sql(said, (cut.run, cut.seq, until)).scalar_one())


def refill(old: Connection, folder: Path, migrations_dir: Path, cut: Cut) -> Path:
    """Make a database in an empty folder, with tables as old as those of `old`, and copy the rows that are kept.

    Returns:
        One file, with no log beside it.

    Raises:
        sqlite3.Error, sqlalchemy.exc.DBAPIError: it could not be written. OSError: nor could the folder.
    """
    engine = writer_engine(prepare(folder))
    try:
        upgrade(engine, migrations_dir, stands_at(old, migrations_dir))
        with engine.connect() as new:
            with new.begin():
                # The rows come table by table, and one may belong to a row of a later one.
                driver(new).execute("PRAGMA defer_foreign_keys=ON").close()
                for table in _tables(driver(old), driver(new)):
                    _copy_rows(driver(old), driver(new), table, cut)
            driver(new).execute("PRAGMA journal_mode=DELETE").close()
    finally:
        engine.dispose()
    return folder / FILE_NAME


def _tables(old: Driver, new: Driver) -> Iterator[str]:
    """The tables to fill. What an older Leadline keeps aside for a newer one is made as it was."""
    named = "SELECT name, sql FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite!_%' ESCAPE '!'"
    there = {name for name, _ in new.execute(named)}
    for name, sql in old.execute(named).fetchall():
        if name not in there:
            new.execute(sql)
        yield name


def _copy_rows(old: Driver, new: Driver, table: str, cut: Cut) -> None:
    columns = [row[1] for row in new.execute(f'PRAGMA table_info("{table}")')]
    listed = ", ".join(f'"{column}"' for column in columns)
    kept = _KEPT.get(table, "true")
    rows = old.execute(f'SELECT {listed} FROM "{table}" WHERE {kept}', {"run": cut.run, "seq": cut.seq})
    new.executemany(f'INSERT INTO "{table}" ({listed}) VALUES ({", ".join("?" * len(columns))})', rows)
