"""Files that are sent: read one after another, in a thread beside the event loop. It knows no route."""

import asyncio
from collections.abc import Callable
from concurrent.futures import Future
from pathlib import Path
from threading import Thread
from typing import TypeVar

from fastapi import HTTPException

from app.reading.files import Kind
from app.service.shelf import Shelf
from app.service.values import Loaded
from app.store.faults import StoreClosed

T = TypeVar("T")

MOST_WAITING = 8
"""A hostile file takes a second and 100 MB to refuse; forty at once would take every thread, and the memory of all."""
WAIT_S = 5
"""What is said to whoever comes when so many wait. Our own bounds, no source."""
STOPPING = "Leadline is stopping. Send the file again when it is back."


class Uploads:
    """One queue for the server. Belongs to one event loop, which must be running."""

    def __init__(self, shelf: Shelf) -> None:
        self._shelf = shelf
        self._turn = asyncio.Semaphore(1)
        self._waiting = 0
        self._closed: asyncio.Future[None] = asyncio.get_running_loop().create_future()

    async def load(self, data: bytes, source: str, kind: Kind | None = None) -> Loaded:
        """Check a file and put it into the library (see `Shelf.load`).

        Raises:
            Refused: it has faults. StoreFault: it could not be stored, or `close` was called: then it may be stored or
            not. HTTPException: 503, too many wait already.
        """
        return await self.read(lambda: self._shelf.load(data, source, kind))

    async def read(self, work: Callable[[], T]) -> T:
        """Do what reads a file, when those that came before are done.

        Raises:
            What `work` does, and as `load`.
        """
        if self._waiting >= MOST_WAITING:
            sentence = f"Many files are being read just now. Wait {WAIT_S} s, then send it again."
            raise HTTPException(503, sentence, {"Retry-After": str(WAIT_S)})
        self._waiting += 1
        reading = asyncio.create_task(self._in_turn(work))
        try:
            await asyncio.wait((reading, self._closed), return_when=asyncio.FIRST_COMPLETED)
            if not reading.done():
                raise StoreClosed(STOPPING)
            return reading.result()
        finally:
            reading.cancel()
            self._waiting -= 1

    async def _in_turn(self, work: Callable[[], T]) -> T:
        async with self._turn:
            if self._closed.done():
                raise StoreClosed(STOPPING)
            return await asyncio.wrap_future(_begun(work))

    async def load_folder(self, folder: Path) -> None:
        """Load the files of a folder, as `Shelf.load_folder` does, until all are read or `close` is called."""
        reading = asyncio.wrap_future(_begun(lambda: self._shelf.load_folder(folder)))
        await asyncio.wait((reading, self._closed), return_when=asyncio.FIRST_COMPLETED)
        if not reading.cancel():
            reading.result()

    def close(self) -> None:
        """Let nobody wait any longer. A file that is being read is left to its thread, which ends with the process."""
        if not self._closed.done():
            self._closed.set_result(None)


def _begun(work: Callable[[], T]) -> Future[T]:
    """The work in a thread of its own: those of the pool would hold up the end of the process."""
    told: Future[T] = Future()
    told.set_running_or_notify_cancel()  # From here on nobody can cancel it: the thread will set what came of it.

    def run() -> None:
        try:
            told.set_result(work())
        except BaseException as error:  # noqa: BLE001 - it is raised again by whoever waits for it
            told.set_exception(error)

    Thread(target=run, name="leadline-file", daemon=True).start()
    return told
