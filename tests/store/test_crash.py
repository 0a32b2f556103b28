"""An acknowledged mark survives SIGKILL. Five short cycles of the store alone; the long count is `make harm`.

A killed process says nothing about power: for that, commits must reach the disk, which `tests/harm/power.py` counts.
"""

import random
import signal
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from pathlib import Path

from app.store import journal
from app.store.backup import fault_of
from app.store.engine import FILE_NAME
from app.store.sqlite_store import SqliteStore
from app.store.verifying import verify
from tests.store.making import MIGRATIONS

ROOT = Path(__file__).parents[2]
CYCLES = 5


def _killed_while_appending(data: Path, after_s: float) -> list[str]:
    """The keys that were acknowledged before the kill, which comes `after_s` after the first of them."""
    words = [sys.executable, "-m", "tests.store.appender", str(data)]
    with subprocess.Popen(words, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        process.stdout.readline()
        keys = [process.stdout.readline().strip()]
        timer = threading.Timer(after_s, process.send_signal, [signal.SIGKILL])
        timer.start()
        # The last line may be cut short by the kill: then its key was not said, and counts for nothing.
        keys += [line.strip() for line in process.stdout if line.endswith("\n")]
        timer.join()
        assert process.wait() == -signal.SIGKILL
    return keys


def test_every_acknowledged_key_survives_being_killed(tmp_path: Path) -> None:
    pick = random.Random(20310504)
    acknowledged: set[str] = set()
    for _ in range(CYCLES):
        acknowledged.update(_killed_while_appending(tmp_path, pick.uniform(0.02, 0.25)))
        with SqliteStore(tmp_path, MIGRATIONS) as store:
            log = store.read(lambda conn: journal.read(conn, 1))
            assert store.read(lambda conn: verify(conn, 1)).fault is None
        with closing(sqlite3.connect(tmp_path / FILE_NAME)) as raw:
            assert fault_of(raw) is None
        stored = [one.key for one in log]
        assert acknowledged <= set(stored), "an acknowledged key is lost"
        assert [one.seq for one in log] == list(range(1, len(log) + 1))
        assert all(stored.count(key) == 2 for key in stored[-40:]), "half a command was stored"
    assert len(acknowledged) > 8 * CYCLES
