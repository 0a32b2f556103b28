"""Tells every screen of a run that something changed. It carries bytes, encoded once for all; it knows no HTTP."""

import asyncio
from collections.abc import AsyncIterator

ROOM = 32
"""Messages kept for a screen that reads slowly; when they are full it is told to read everything anew."""


class Screen:
    """One open stream. Messages come out in order; after an overflow only the newest state matters."""

    def __init__(self) -> None:
        self._queue: asyncio.Queue[bytes | None] = asyncio.Queue(ROOM)

    def tell(self, message: bytes | None) -> None:
        """Hand over a message, dropping the oldest one when there is no room. None ends the stream."""
        if self._queue.full():
            self._queue.get_nowait()
        self._queue.put_nowait(message)

    async def messages(self) -> AsyncIterator[bytes]:
        while (message := await self._queue.get()) is not None:
            yield message


class Feed:
    """The open screens by run. Belongs to one event loop; call it only from there."""

    def __init__(self) -> None:
        self._screens: dict[int, set[Screen]] = {}
        self.closing = False

    def open(self, run: int) -> Screen:
        screen = Screen()
        self._screens.setdefault(run, set()).add(screen)
        if self.closing:
            screen.tell(None)
        return screen

    def leave(self, run: int, screen: Screen) -> None:
        self._screens.get(run, set()).discard(screen)
        if not self._screens.get(run):
            self._screens.pop(run, None)

    def tell(self, run: int, message: bytes) -> None:
        for screen in self._screens.get(run, ()):
            screen.tell(message)

    def watched(self) -> tuple[int, ...]:
        """The runs that somebody looks at."""
        return tuple(self._screens)

    def close(self) -> None:
        """End every stream, and every stream opened later: the server is stopping."""
        self.closing = True
        for screens in self._screens.values():
            for screen in screens:
                screen.tell(None)
