"""Work on passwords, one at a time in a thread of its own: pages and marks of everybody else do not wait for it."""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

from app.service.people import TooMany, network_of

T = TypeVar("T")

MOST_WAITING = 16
"""A password takes a tenth of a second, so the last one waits for under two. Our own bound."""
WAIT_S = 2


class InTurn:
    """Belongs to one event loop."""

    def __init__(self) -> None:
        self._thread = ThreadPoolExecutor(1, "leadline-passwords")
        self._waiting: list[str] = []

    async def run(self, address: str, work: Callable[[], T]) -> T:
        """Do the work for somebody at a network address, after what came before it.

        Raises:
            TooMany: one of theirs waits already, or too many of others. What `work` raises.
        """
        station = network_of(address)
        if station in self._waiting or len(self._waiting) >= MOST_WAITING:
            raise TooMany(WAIT_S)
        self._waiting.append(station)
        try:
            return await asyncio.get_running_loop().run_in_executor(self._thread, work)
        finally:
            self._waiting.remove(station)

    def close(self) -> None:
        self._thread.shutdown(wait=False, cancel_futures=True)
