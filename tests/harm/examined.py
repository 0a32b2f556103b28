"""What a data folder of a dead server holds, as the crash left it. It looks at a copy and changes nothing.

Rows are counted by plain SQL, so that a fault of Leadline's own reading cannot hide one; only the chain is walked by
the code that `leadline verify` has.
"""

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from app.settings import HOME
from app.store import library, verifying
from app.store.sqlite_store import SqliteStore
from tests.harm.server import database, scratch


@dataclass(frozen=True, slots=True)
class Found:
    """What is in the database.

    Attributes:
        places: (run, first seq, last seq) of the events by key.
        gaps: seqs that are missing in the runs' logs.
        halves: keys whose events are not those that the receipt has, or that have no receipt.
        faults: in words: of `integrity_check`, and of each chain.
    """

    places: dict[str, tuple[int, int, int]]
    events: int
    gaps: int
    halves: int
    faults: tuple[str, ...]


@contextmanager
def _copy(data: Path) -> Iterator[Path]:
    with scratch() as folder:
        yield shutil.copytree(data, folder / "copy")


def examine(data: Path) -> Found:
    """The record in the folder of a server that is not running. The write-ahead log counts, as at the next start."""
    with _copy(data) as copy:
        with closing(sqlite3.connect(database(copy))) as raw:
            found = _counted(raw)
        return Found(*found, faults=(*_unsound(copy), *_broken_chains(copy)))


def _counted(raw: sqlite3.Connection) -> tuple[dict[str, tuple[int, int, int]], int, int, int]:
    rows = raw.execute("SELECT run, key, min(seq), max(seq), count(*) FROM event GROUP BY run, key").fetchall()
    places = {key: (run, first, last) for run, key, first, last, _ in rows}
    receipts = raw.execute("SELECT run, key, first_seq, last_seq FROM receipt WHERE first_seq IS NOT NULL").fetchall()
    kept = {key: (run, first, last) for run, key, first, last in receipts}
    torn = {key for _, key, first, last, count in rows if last - first + 1 != count}
    halves = len(torn | {key for key in places.keys() | kept.keys() if places.get(key) != kept.get(key)})
    gaps = raw.execute("SELECT sum(last - n) FROM (SELECT max(seq) AS last, count(*) AS n FROM event GROUP BY run)")
    return places, sum(row[4] for row in rows), int(gaps.fetchone()[0] or 0), halves


def _unsound(copy: Path) -> list[str]:
    with closing(sqlite3.connect(database(copy))) as raw:
        said = [str(row[0]) for row in raw.execute("PRAGMA integrity_check")]
        said += [f"foreign key of {row[0]}" for row in raw.execute("PRAGMA foreign_key_check")]
    return [each for each in said if each != "ok"]


def _broken_chains(copy: Path) -> list[str]:
    with SqliteStore(copy, HOME / "migrations") as store:
        runs = [stored.run for stored in store.read(library.runs)]
        found = [(run, store.read(lambda conn, run=run: verifying.verify(conn, run))) for run in runs]  # type: ignore[misc]
    return [f"run {run}: {each.fault}" for run, each in found if each.fault is not None]
