"""Files as each released revision of the tables left them: SQL dumps in tests/data/released, told into files again.

Run as a program from the repository of a release, it writes the dump of that release: `python -m tests.store.released`.
A dump is written once and then never again: what it shows is what people have on their disks.
"""

import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import timedelta
from itertools import count
from pathlib import Path

from app.core.commands import AddNote, EndRun, MakeChanges, MarkStep, UndoMark
from app.core.times import read_clock
from app.demo import SAMPLE, history
from app.service.people import People
from app.service.runs import Service
from app.service.values import Sender
from app.settings import HOME
from app.store.engine import FILE_NAME
from app.store.sound import GUARDED
from app.store.sqlite_store import SqliteStore
from tests.service.making import ANGLE, SMALL, SetClock

DUMPS = Path(__file__).parents[1] / "data" / "released"
HARD = "“quotes”, <b>, {{7*7}}, \u202eright to left\u202c, 😀, e\u0301 and a\nline; it's 100 % “done”"
PASSWORD = "seven dry ropes"
SMALL_ORDERS = (
    MarkStep("rig/1"),
    AddNote(HARD, None, "EV1"),
    MarkStep("rig/2", ANGLE),
    UndoMark("rig/2"),
    MakeChanges(("wire/1 takes 12 min", "put off paint"), "the wind rises"),
    MarkStep("rig/2", ANGLE),
)


def released() -> tuple[str, ...]:
    """The revisions of the tables of which there is a dump, the oldest first."""
    return tuple(sorted(file.stem for file in DUMPS.glob("*.sql")))


def told(revision: str, data: Path) -> Path:
    """Make a data folder as that revision left it. Returns the folder."""
    data.mkdir(mode=0o700, parents=True)
    with closing(sqlite3.connect(data / FILE_NAME, isolation_level=None)) as raw:
        raw.executescript((DUMPS / f"{revision}.sql").read_text(encoding="utf-8"))
        raw.execute("PRAGMA journal_mode=WAL").close()
    return data


@contextmanager
def populated() -> Iterator[Path]:
    """A data folder as the newest release left it: three runs, 64 events."""
    with tempfile.TemporaryDirectory() as folder:
        yield told(released()[-1], Path(folder) / "data")


def rows_of(file: Path, tables: tuple[str, ...] = GUARDED) -> dict[str, list[tuple[object, ...]]]:
    """All rows of these tables, in one order."""
    with closing(sqlite3.connect(file)) as raw:
        return {name: sorted(raw.execute(f'SELECT * FROM "{name}"').fetchall(), key=repr) for name in tables}


def populate(data: Path) -> None:
    """Three runs: the demo's, one with a command of several events and a step of the wall clock, one that ended.

    Two people as well, one of them signed in.
    """
    clock, keys = SetClock(), map(_key, count(1))
    with SqliteStore(data, HOME / "migrations", "a release") as store:
        service = Service(store, clock.server())
        _demo_run(service, clock, keys)
        _small_run(service, clock, keys)
        ended = service.start_run("mast", "rehearsal", _sender(keys))
        service.order(ended, EndRun("Storm"), _sender(keys)).result()
        people = People(store, service.clock)
        people.add("Ana Lead", "keep", PASSWORD)
        people.add("Ben", "mark", PASSWORD)
        people.change("Ben", enabled=False)
        people.sign_in("Ana Lead", PASSWORD, "desk 1", "127.0.0.1", "")


def _demo_run(service: Service, clock: SetClock, keys: Iterator[str]) -> None:
    service.shelf.load((HOME / "procedures" / f"{SAMPLE}.yaml").read_bytes(), f"{SAMPLE}.yaml")
    run = service.start_run(SAMPLE, "rehearsal", _sender(keys))
    for entered, command, happened in history():
        clock.at_s = read_clock(entered)
        at_s = None if happened is None else read_clock(happened)
        service.order(run, command, _sender(keys), at_s).result()


def _small_run(service: Service, clock: SetClock, keys: Iterator[str]) -> None:
    run = service.start_run(service.shelf.load(SMALL, "mast.yaml").hash, "live", _sender(keys))
    for order in SMALL_ORDERS:
        clock.at_s += 400
        service.order(run, order, _sender(keys)).result()
    clock.step += timedelta(hours=1)
    service.watch_clock()
    service.order(run, AddNote("after the step", None, None), _sender(keys)).result()


def _sender(keys: Iterator[str]) -> Sender:
    return Sender("Ground", "station 1", next(keys))


def _key(number: int) -> str:
    """A UUID in the form of version 7, the same at each run."""
    return f"018f0000-0000-7000-8000-{number:012x}"


def main() -> None:
    """Write the dump of this repository's release."""
    with tempfile.TemporaryDirectory() as folder:
        populate(Path(folder))
        with closing(sqlite3.connect(Path(folder) / FILE_NAME)) as raw:
            (revision,) = raw.execute("SELECT version_num FROM alembic_version").fetchone()
            lines = "\n".join(raw.iterdump())
    file = DUMPS / f"{revision}.sql"
    if file.exists():
        raise SystemExit(f"{file} is there already: a release is dumped once.")
    file.write_text(f"{lines}\n", encoding="utf-8")
    print(f"{file} written")


if __name__ == "__main__":
    main()
