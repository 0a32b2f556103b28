"""Tells every screen that something changed. It carries bytes, encoded once for all; it knows no HTTP."""

import asyncio
import time
from collections.abc import AsyncIterator, Iterable

ROOM = 32
"""Messages kept for a screen that reads slowly, and a few more for each run of it. When they are full they are all
dropped, and the screen is told the whole state anew: memory stays bounded, and nothing is missed."""
ROOM_PER_RUN = 4
ANEW = b""
"""The message that stands for those that were dropped."""


class Screen:
    """One open stream of some runs. Messages come out in order, ANEW in place of those that found no room."""

    def __init__(self, runs: Iterable[int], session: str | None = None) -> None:
        self.runs = set(runs)
        self.session = session
        self.told_s = time.monotonic()
        self._queue: asyncio.Queue[bytes | None] = asyncio.Queue(ROOM + ROOM_PER_RUN * len(self.runs))
        self._ended = False

    def tell(self, message: bytes | None) -> None:
        """Hand over a message. None ends the stream; what is told after it is not heard."""
        if self._ended:
            return
        self._ended = message is None
        self.told_s = time.monotonic()
        if self._queue.full():
            while not self._queue.empty():
                self._queue.get_nowait()
            message = ANEW if message is not None else None
        self._queue.put_nowait(message)

    async def messages(self) -> AsyncIterator[bytes]:
        while (message := await self._queue.get()) is not None:
            yield message


class Feed:
    """The open screens by run. Belongs to one event loop; call it only from there."""

    def __init__(self) -> None:
        self._screens: dict[int, set[Screen]] = {}
        self._all: set[Screen] = set()
        self.closing = False

    def open(self, runs: Iterable[int], session: str | None = None) -> Screen:
        """A new screen that watches these runs, for as long as this session lasts if it belongs to one."""
        screen = Screen(runs, session)
        self._all.add(screen)
        for run in screen.runs:
            self._screens.setdefault(run, set()).add(screen)
        if self.closing:
            screen.tell(None)
        return screen

    def leave(self, screen: Screen) -> None:
        """The screen is gone."""
        self._all.discard(screen)
        for run in tuple(screen.runs):
            self.drop(screen, run)

    def drop(self, screen: Screen, run: int) -> None:
        """The screen stays, but hears no more of this run."""
        screen.runs.discard(run)
        watching = self._screens.get(run, set())
        watching.discard(screen)
        if not watching:
            self._screens.pop(run, None)

    def tell(self, run: int, message: bytes) -> None:
        for screen in self._screens.get(run, ()):
            screen.tell(message)

    def tell_silent(self, message: bytes, for_s: float) -> None:
        """Tell the screens that were told nothing for so long."""
        since_s = time.monotonic() - for_s
        for screen in self._all:
            if screen.told_s <= since_s:
                screen.tell(message)

    def watched(self) -> tuple[int, ...]:
        """The runs that somebody looks at."""
        return tuple(self._screens)

    def end_session(self, session: str) -> None:
        """End the streams of a session: whoever it was has signed out, or may look no more.

        The empty one is that of the streams opened while there were no accounts.
        """
        for screen in self._all:
            if (screen.session or "") == session:
                screen.tell(None)

    def close(self) -> None:
        """End every stream, and every stream opened later: the server is stopping."""
        self.closing = True
        for screen in self._all:
            screen.tell(None)
