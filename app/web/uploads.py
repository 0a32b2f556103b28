"""Procedure files that are sent: read one after another, in a thread beside the event loop. It knows no route."""

import asyncio

from fastapi import HTTPException
from starlette.concurrency import run_in_threadpool

from app.reading.files import Kind
from app.service.shelf import Shelf
from app.service.values import Loaded

MOST_WAITING = 8
"""A hostile file takes a second and 100 MB to refuse; forty at once would take every thread, and the memory of all."""
WAIT_S = 5
"""What is said to whoever comes when so many wait. Our own bounds, no source."""


class Uploads:
    """One queue for the server. Belongs to one event loop."""

    def __init__(self, shelf: Shelf) -> None:
        self._shelf = shelf
        self._turn = asyncio.Semaphore(1)
        self._waiting = 0

    async def load(self, data: bytes, source: str, kind: Kind | None = None) -> Loaded:
        """Check a file and put it into the library (see `Shelf.load`).

        Raises:
            Refused: it has faults. StoreFault: it could not be stored. HTTPException: 503, too many wait already.
        """
        if self._waiting >= MOST_WAITING:
            sentence = f"Many files are being read just now. Wait {WAIT_S} s, then send it again."
            raise HTTPException(503, sentence, {"Retry-After": str(WAIT_S)})
        self._waiting += 1
        try:
            async with self._turn:
                return await run_in_threadpool(self._shelf.load, data, source, kind)
        finally:
            self._waiting -= 1
