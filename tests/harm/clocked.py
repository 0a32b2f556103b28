"""`leadline serve` on clocks that a test sets: ``python -m tests.harm.clocked FOLDER serve ...``. For tests only.

Time may pass on both clocks, as in `tests.browser.clocked`, and the wall clock may step alone.
"""

import sys
from datetime import timedelta
from functools import partial
from pathlib import Path
from typing import Any, cast

from app import cli, serving
from app.main import create_app
from app.store.clock import ServerClock
from tests.browser.clocked import clock_of

AHEAD, WALL = "ahead_s", "wall_s"


def write(folder: Path, name: str, seconds: float) -> None:
    """Set what has passed on both clocks (AHEAD), or by how much the wall clock is off (WALL); at once and whole."""
    fresh = folder / f"{name}.new"
    fresh.write_text(str(seconds), encoding="ascii")
    fresh.replace(folder / name)


def stepped_clock_of(folder: Path) -> ServerClock:
    """This machine's clocks, changed by what stands in the two files whenever they are looked at."""
    passing = clock_of(folder / AHEAD)

    def off() -> timedelta:
        return timedelta(seconds=float((folder / WALL).read_text(encoding="ascii")))

    return ServerClock(lambda: passing.utc() + off(), passing.monotonic)


def main() -> None:
    """Put the clocks in place, then be `leadline` with the words that are left."""
    clock = stepped_clock_of(Path(sys.argv.pop(1)))
    cast(Any, serving).create_app = partial(create_app, clock=clock)
    cli.main()


if __name__ == "__main__":
    main()
