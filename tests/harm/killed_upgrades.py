"""Kills upgrades and prints figures as JSON: `python -m tests.harm.killed_upgrades REVISION KILLS SEED MIGRATIONS`.

Each upgrade runs in a child that is forked when everything is loaded, so that the kill meets the upgrade.
"""

import json
import os
import random
import signal
import sys
import tempfile
import time
from itertools import count
from pathlib import Path
from typing import Any, Literal

from sqlalchemy import Engine, event

from app.store.engine import FILE_NAME
from app.store.faults import StoreFault
from app.store.glance import look
from app.store.migrate import stands_at
from app.store.sound import soundness
from app.store.sqlite_store import SqliteStore
from tests.harm.upgrades import Rows, kept_rows
from tests.store.released import told

DONE = 0
"""The moment after the upgrade, before the database is closed."""

How = Literal["killed", "finished", "failed"]


class Trials:
    """Upgrades of one released file, each killed at another moment."""

    def __init__(self, scratch: Path, revision: str, migrations: Path) -> None:
        self._scratch = scratch
        self._revision = revision
        self._migrations = migrations
        self._numbers = count(1)
        self.found = {
            "killed": 0,
            "of these old after it": 0,
            "of these new after it": 0,
            "finished before the kill": 0,
        }
        self.broken: list[str] = []

    def kill(self, moment: int | float) -> How:
        """Kill an upgrade before its statement of that number, or so many seconds after its begin, or when `DONE`."""
        data = told(self._revision, self._scratch / str(next(self._numbers)))
        before = kept_rows(data)
        how = self.upgrade(data, moment)
        what = f"killed {'before statement' if isinstance(moment, int) else 'after seconds'} {moment:g}"
        if how == "failed":
            self.broken.append(f"{what}: the upgrade itself failed")
            return how
        self.broken += [f"{what}: {fault}" for fault in self._looked_at(data, before, how)]
        return how

    def upgrade(self, data: Path, moment: int | float) -> How:
        child = os.fork()
        if child == 0:
            _be_killed(data, self._migrations, moment)
        if isinstance(moment, float):
            time.sleep(moment)
            os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        if os.WIFSIGNALED(status):
            return "killed"
        return "finished" if os.waitstatus_to_exitcode(status) == 0 else "failed"

    def _looked_at(self, data: Path, before: Rows, how: How) -> list[str]:
        """Count where it stands, and say what is wrong."""
        with look(data / FILE_NAME, self._migrations) as conn:
            stands, faults = stands_at(conn, self._migrations), list(soundness(conn).faults())
        is_new = stands != self._revision
        if how == "killed":
            self.found["killed"] += 1
            self.found["of these new after it" if is_new else "of these old after it"] += 1
        else:
            self.found["finished before the kill"] += 1
        if kept_rows(data) != before:
            faults.append("rows are not what they were")
        if is_new:
            faults += self._backup_faults(data, str(stands), before)
        try:
            SqliteStore(data, self._migrations, "harm").close()
        except StoreFault as fault:
            return [*faults, f"it does not open again: {fault}"]
        with look(data / FILE_NAME, self._migrations) as conn:
            faults += [f"opened again: {fault}" for fault in soundness(conn).faults()]
        if kept_rows(data) != before:
            faults.append("opened again, rows are not what they were")
        if unfinished := [file.name for file in data.iterdir() if "partial" in file.name]:
            faults.append(f"{unfinished[0]} was left")
        return faults

    def _backup_faults(self, data: Path, stands: str, before: Rows) -> list[str]:
        """An upgraded file must have a whole backup of what it was beside it."""
        kept = data / f"leadline-before-{stands}.sqlite3"
        if not kept.exists():
            return ["there is no backup of what it was"]
        with look(kept, self._migrations) as conn:
            was, faults = stands_at(conn, self._migrations), list(soundness(conn).faults())
        folder = data.parent / f"{data.name}-kept"
        folder.mkdir()
        kept.rename(folder / FILE_NAME)
        if was != self._revision or kept_rows(folder) != before:
            faults.append("the backup is not what it was")
        return faults


def _be_killed(data: Path, migrations: Path, moment: int | float) -> None:
    """The child: upgrade, and kill itself before a statement. It never returns."""
    statements = count(1)

    def kill_before(*_said: object) -> None:
        if next(statements) == moment:
            os.kill(os.getpid(), signal.SIGKILL)

    try:
        if isinstance(moment, int):
            event.listen(Engine, "before_cursor_execute", kill_before)
        store = SqliteStore(data, migrations, "harm")
        if moment == DONE:
            os.kill(os.getpid(), signal.SIGKILL)
        store.close()
        os._exit(0)
    except BaseException as error:  # noqa: BLE001 - a child that was forked must not run on into its parent's code
        print(error, file=sys.stderr)
        os._exit(3)


def main(revision: str, kills: int, seed: int, migrations: Path) -> dict[str, Any]:
    pick = random.Random(seed)
    with tempfile.TemporaryDirectory() as scratch:
        trials = Trials(Path(scratch), revision, migrations)
        began = time.monotonic()
        trials.upgrade(told(revision, Path(scratch) / "timed"), 10**9)
        took_s = time.monotonic() - began
        trials.kill(DONE)
        statement = next(number for number in count(1) if trials.kill(number) != "killed")
        for _ in range(kills):
            trials.kill(pick.uniform(0, took_s))
    return {"statements of an upgrade": statement - 1, **trials.found, "broken": trials.broken}


if __name__ == "__main__":
    print(json.dumps(main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]), Path(sys.argv[4]))))
