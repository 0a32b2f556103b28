"""``python -m tests.bench [ROW...]``: measures, prints each row beside its reference, and writes latest.json."""

import os
import platform
import sqlite3
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime

from tests.bench import (
    arithmetic,
    debriefs,
    forecasts,
    growth,
    hours,
    logs,
    looking,
    marks,
    options,
    pages,
    postgres,
    readers,
    screens,
    start,
    two_servers,
)
from tests.bench.report import Measure, Measures, Row, show, verdict, write

GROUPS: dict[str, Measures] = {
    "marks": marks.ROWS,
    "postgres": postgres.ROWS,
    "screens": screens.ROWS,
    "two-servers": two_servers.ROWS,
    "arithmetic": arithmetic.ROWS,
    "forecasts": forecasts.ROWS,
    "options": options.ROWS,
    "looking": looking.ROWS,
    "logs": logs.ROWS,
    "debriefs": debriefs.ROWS,
    "pages": pages.ROWS,
    "readers": readers.ROWS,
    "start": start.ROWS,
    "growth": growth.ROWS,
    "hours": hours.ROWS,
}
NAMES: dict[str, Measure] = {
    f"{group}-{name}".removesuffix("-"): measure for group, rows in GROUPS.items() for name, measure in rows.items()
}


def chosen(words: Sequence[str]) -> list[str]:
    """The names that are asked for: a word is a name, or a group, which is all its names. None is all there are.

    Raises:
        SystemExit: there is nothing of such a name.
    """
    found = {word: [name for name in NAMES if name == word or name.startswith(f"{word}-")] for word in words}
    for word, names in found.items():
        if not names:
            raise SystemExit(f"There is no row {word}; the rows are {', '.join(NAMES)}.")
    asked = {name for names in found.values() for name in names}
    return [name for name in NAMES if name in asked or not words]


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


def measured(names: Sequence[str]) -> Iterator[Row]:
    """Each row as soon as it is measured, with how long that took."""
    for name in names:
        began = time.monotonic()
        made = NAMES[name]()
        for row in [made] if isinstance(made, Row) else made:
            yield replace(row, took_s=time.monotonic() - began)
            began = time.monotonic()


def main(words: Sequence[str]) -> None:
    names = chosen(words)
    began, found = time.monotonic(), list[Row]()
    where = machine()
    print(", ".join(f"{name} {value}" for name, value in where.items()), flush=True)
    for row in measured(names):
        print(show(row), flush=True)
        found.append(row)
    write(found, where, whole=not words)
    print(f"{verdict(found)}; took {time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main(sys.argv[1:])
