"""``python -m tests.bench [GROUP...]``: measures, prints each row beside its reference, and writes latest.json."""

import os
import platform
import sqlite3
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime

from tests.bench import (
    arithmetic,
    debriefs,
    forecasts,
    growth,
    logs,
    looking,
    marks,
    options,
    pages,
    readers,
    screens,
    start,
)
from tests.bench.report import Row, show, verdict, write

GROUPS: dict[str, Callable[[], list[Row]]] = {
    "marks": marks.rows,
    "screens": screens.rows,
    "arithmetic": arithmetic.rows,
    "forecasts": forecasts.rows,
    "options": options.rows,
    "looking": looking.rows,
    "logs": logs.rows,
    "debriefs": debriefs.rows,
    "pages": pages.rows,
    "readers": readers.rows,
    "start": start.rows,
    "growth": growth.rows,
}


def machine() -> dict[str, str]:
    """What the figures depend on. The load is how many processes wanted a core in the last minute."""
    load = f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "unknown"
    return {
        "at": datetime.now(UTC).isoformat(timespec="seconds"),
        "cores": str(os.cpu_count()),
        "load": load,
        "python": platform.python_version(),
        "sqlite": sqlite3.sqlite_version,
    }


def main(names: list[str]) -> None:
    unknown = [name for name in names if name not in GROUPS]
    if unknown:
        raise SystemExit(f"There is no group {unknown[0]}; the groups are {', '.join(GROUPS)}.")
    began, found = time.monotonic(), list[Row]()
    where = machine()
    print(", ".join(f"{name} {value}" for name, value in where.items()), flush=True)
    for name in names or GROUPS:
        for row in GROUPS[name]():
            print(show(row), flush=True)
            found.append(row)
    write(found, where, whole=not names)
    print(f"{verdict(found)}; took {time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main(sys.argv[1:])
