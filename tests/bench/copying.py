"""``python -m tests.bench.copying [--events N]``: how long `leadline copy` takes, and how much memory, by events.

One run of notes, one event each, in a folder of SQLite's, copied into PostgreSQL, from there into another database of
it, and back into a folder. A command starts in half a second or so, which is part of the time.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from sqlalchemy import Connection

from app.core.events import NoteAdded
from app.store import journal, library
from app.store.sqlite_store import SqliteStore
from tests import postgres
from tests.postgres import Cluster
from tests.served import LEADLINE, environment
from tests.store.making import MIGRATIONS, NOON, SENT, a_run

EVENTS = (10_000, 100_000)
AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class Took:
    """One copy, as wait4(2) has it of the command: the processor's time counts no database server's part.

    By the clock, by the processor, and the most memory that it had.
    """

    way: str
    events: int
    seconds: float
    busy_s: float
    peak_mb: float


def fill(data: Path, events: int) -> None:
    """A folder with one run of so many events."""
    with SqliteStore(data, MIGRATIONS) as store:
        run = a_run(store)
        for first in range(0, events, AT_ONCE):
            numbers = range(first, min(first + AT_ONCE, events))
            store.write(partial(_append, run, numbers)).result()
        assert len(store.read(library.runs)) == 1


def _append(run: int, numbers: range, conn: Connection) -> None:
    for number in numbers:
        note = journal.Entry(NoteAdded(f"all well, {number}", None, None), number, number, NOON, "Ground", "desk-1")
        journal.append(conn, run, [note], str(uuid.uuid4()), SENT, {"seq": number + 1})


def copies(events: int, cluster: Cluster) -> list[Took]:
    """Each way once."""
    with tempfile.TemporaryDirectory(prefix="leadline-bench-") as made:
        folder = Path(made)
        fill(folder / "data", events)
        first, second = cluster.new_database(), cluster.new_database()
        ways = (
            ("SQLite to PostgreSQL", folder / "data", first),
            ("PostgreSQL to PostgreSQL", first, second),
            ("PostgreSQL to SQLite", second, folder / "back"),
            ("SQLite to SQLite", folder / "back", folder / "again"),
        )
        return [Took(way, events, *_copied(source, target, folder)) for way, source, target in ways]


def _copied(source: str | Path, target: str | Path, folder: Path) -> tuple[float, float, float]:
    began = time.monotonic()
    words = [*LEADLINE, "copy", "--from", str(source), "--to", str(target)]
    process = subprocess.Popen(words, cwd=folder, env=environment(), stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0, f"{source} to {target} was not copied"
    return time.monotonic() - began, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def main(words: Sequence[str]) -> int:
    """Print a line for each way and length."""
    read = argparse.ArgumentParser(prog="python -m tests.bench.copying", description="Time `leadline copy`.")
    read.add_argument("--events", type=int, nargs="*", default=EVENTS)
    asked = read.parse_args(words)
    if why := postgres.why_not():
        print(f"PostgreSQL was not tested: {why}")
        return 1
    cluster = Cluster()
    try:
        for events in asked.events:
            for took in copies(events, cluster):
                print(
                    f"{took.way:26} {took.events:>9,} events {took.seconds:6.1f} s, "
                    f"busy {took.busy_s:5.1f} s {took.peak_mb:5.0f} MB",
                    flush=True,
                )
    finally:
        cluster.close()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
