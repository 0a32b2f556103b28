"""A start program whose feed forgets one screen in five: ``python -m tests.harm.deaf serve``. For the control only."""

import itertools
from typing import Any, cast

from app import feed


def forget() -> None:
    """Every fifth screen is told no message of its runs: it hears the beat, and stays at the state it began with."""
    number = itertools.count(1)
    rightly = feed.Feed.open

    def forgetful(self: Any, runs: Any, session: str | None = None) -> feed.Screen:
        screen = rightly(self, runs, session)
        if next(number) % 5 == 0:
            for run in tuple(screen.runs):
                watching = self._screens[run]
                watching.discard(screen)
        return screen

    cast(Any, feed.Feed).open = forgetful


def main() -> None:
    """Plant the fault, then be `leadline`."""
    forget()
    from app.cli import main as leadline

    leadline()


if __name__ == "__main__":
    main()
