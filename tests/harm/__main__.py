"""``python -m tests.harm [NAME...] [--short] [--size N]``: breaks a real server, and prints the table of promises.

It ends with 1 if a promise was broken.
"""

import argparse
import os
import platform
import sqlite3
import sys
import time
import traceback
from collections.abc import Sequence
from datetime import UTC, datetime

from tests.harm.promises import PROMISES, Promise
from tests.harm.table import Row, show, verdict
from tests.pace import pace


def _asked(words: Sequence[str]) -> argparse.Namespace:
    names = [each.name for each in PROMISES]
    read = argparse.ArgumentParser(prog="python -m tests.harm", description="Break a real server; print what held.")
    read.add_argument("names", nargs="*", metavar="NAME", help=f"only these rows: {', '.join(names)}")
    read.add_argument("--short", action="store_true", help="as the tests run it: under two minutes")
    read.add_argument("--size", type=int, help="cycles, runs or tries of each row, in place of its own number")
    asked = read.parse_args(words)
    if unknown := [name for name in asked.names if name not in names]:
        read.error(f"there is no row {unknown[0]}; the rows are {', '.join(names)}")
    return asked


def machine() -> str:
    """What the figures depend on. The load is how many processes wanted a core in the last minute."""
    load = f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "unknown"
    return (
        f"{datetime.now(UTC).isoformat(timespec='seconds')}, {os.cpu_count()} cores, load {load}, "
        f"{platform.system()} {platform.release()}, Python {platform.python_version()}, "
        f"SQLite {sqlite3.sqlite_version}, {pace():.1f} times as slow as what the seconds were promised on"
    )


def _tried(promise: Promise, size: int) -> Row:
    try:
        return promise.make(size)
    except Exception:  # noqa: BLE001 - one trial that fails must not hide the others; it counts as broken
        return Row(promise.name, broken=(f"the trial itself failed: {traceback.format_exc(limit=-3)}",))


def main(words: Sequence[str]) -> int:
    asked, began, rows = _asked(words), time.monotonic(), list[Row]()
    print(machine(), flush=True)
    for promise in PROMISES:
        if not asked.names or promise.name in asked.names:
            since = time.monotonic()
            rows.append(_tried(promise, asked.size or (promise.short if asked.short else promise.long)))
            print(f"{show(rows[-1])}\n    ({promise.name}: {time.monotonic() - since:.0f} s)", flush=True)
    print(f"{verdict(rows)}; took {time.monotonic() - began:.0f} s")
    return int(any(row.kept is False for row in rows))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
