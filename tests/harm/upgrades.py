"""Figures on upgrades: files as each release left them, taken up, down and up again; and upgrades that are killed."""

import json
import sqlite3
import subprocess
import sys
import tempfile
from contextlib import closing
from pathlib import Path
from typing import Any

from app.store.engine import FILE_NAME, writer_engine
from app.store.glance import look
from app.store.migrate import downgrade
from app.store.sound import GUARDED, soundness
from app.store.sqlite_store import SqliteStore
from tests.served import ROOT
from tests.store.making import MIGRATIONS
from tests.store.released import released, rows_of, told

Rows = dict[str, list[tuple[object, ...]]]
SEED = 20310504


def upgrades(kills: int = 25) -> dict[str, Any]:
    """Take every released file up, down and up; and kill the upgrade of each older one: before every statement once,
    and `kills` times at random.
    """
    figures = up_down_up()
    for revision in released()[:-1]:
        found = killed(revision, kills)
        figures["broken"] += found.pop("broken")
        for name, number in found.items():
            figures[name] = figures.get(name, 0) + number
    return figures


def up_down_up() -> dict[str, Any]:
    """Every released file to the newest tables, from there down to each older revision, and up again."""
    ways, compared, changed = 0, 0, 0
    broken: list[str] = []
    for first in released():
        for down in released()[:-1]:
            ways += 1
            with tempfile.TemporaryDirectory() as scratch:
                for what, was, now in _stages(Path(scratch) / "data", first, down, broken):
                    compared += sum(map(len, was.values()))
                    if lost := sum(len(set(was[name]) ^ set(now[name])) for name in was):
                        changed += lost
                        broken.append(f"{what}: {lost} rows are not what they were")
    return {"ways up, down and up": ways, "rows compared": compared, "rows changed": changed, "broken": broken}


def _stages(data: Path, first: str, down: str, broken: list[str]) -> list[tuple[str, Rows, Rows]]:
    """What was there before and after each stage, by the stage's name."""
    told(first, data)
    found = [kept_rows(data)]
    what = (f"{first} up", f"{first} up, down to {down}", f"{first} up, down to {down}, up")
    for stage in (_up, lambda at: _down(at, down), _up):
        stage(data)
        found.append(kept_rows(data))
        broken += [f"{what[len(found) - 2]}: {fault}" for fault in faults_of(data)]
    return [(name, found[place], found[place + 1]) for place, name in enumerate(what)]


def kept_rows(data: Path) -> Rows:
    """The record, and the people wherever they are kept; an older file has none. Sessions are not kept."""
    file = data / FILE_NAME
    with closing(sqlite3.connect(file)) as raw:
        named = raw.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name LIKE 'person%'").fetchall()
    people = [row for (name,) in named for row in rows_of(file, (name,))[name]]
    return rows_of(file, GUARDED) | {"person": people}


def faults_of(data: Path) -> tuple[str, ...]:
    """What is wrong with the database of a folder, in words."""
    with look(data / FILE_NAME, MIGRATIONS) as conn:
        return soundness(conn).faults()


def _up(data: Path) -> None:
    SqliteStore(data, MIGRATIONS, "harm").close()


def _down(data: Path, to: str) -> None:
    engine = writer_engine(data)
    downgrade(engine, MIGRATIONS, to)
    engine.dispose()


def killed(revision: str, kills: int, migrations: Path = MIGRATIONS) -> dict[str, Any]:
    """Kill upgrades of a released file, in a process of one thread, whose children may be forked."""
    words = [sys.executable, "-m", "tests.harm.killed_upgrades", revision, str(kills), str(SEED), str(migrations)]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode:
        return {"broken": [f"the trial itself broke: {done.stderr[-600:]}"]}
    found: dict[str, Any] = json.loads(done.stdout)
    return found
