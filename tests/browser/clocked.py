"""A real `leadline` process whose clocks a test can set ahead, so that an hour of a run need not be waited for.

It opens no page and judges nothing. Run as a program it is the server itself: the real application over the real
store, with both of its clocks ahead by the seconds that stand in a file.
"""

import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, cast

from fastapi import FastAPI

from app import cli, serving
from app.main import create_app
from app.settings import Settings
from app.store.clock import ServerClock, steady_clock
from app.store.store import Store
from tests.browser.server import Server


class ClockedServer(Server):
    """`leadline serve` with clocks that can be set ahead while it runs, or while it is down."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self._ahead_by_s = 0.0
        self._file = folder / "ahead_s"
        self.ahead(0)
        self.program = (__name__, str(self._file))

    def ahead(self, seconds: float) -> None:
        """Let so many seconds have passed. Both clocks go together: it is time that passes, not a step of one."""
        self._ahead_by_s += seconds
        new = self._file.with_suffix(".new")
        new.write_text(str(self._ahead_by_s), encoding="ascii")
        new.replace(self._file)


def clock_of(file: Path) -> ServerClock:
    """This machine's clocks, ahead by what the file says."""

    def ahead_s() -> float:
        return float(file.read_text(encoding="ascii"))

    return ServerClock(
        lambda: datetime.now(UTC) + timedelta(seconds=ahead_s()),
        lambda: steady_clock() + ahead_s(),
    )


def main() -> None:
    """``python -m tests.browser.clocked FILE serve ...``: as `leadline serve ...`."""
    clock = clock_of(Path(sys.argv.pop(1)))

    def clocked(settings: Settings, *, opened: Store) -> FastAPI:
        return create_app(settings, clock, opened)

    cast(Any, serving).create_app = clocked
    cli.main()


if __name__ == "__main__":
    main()
