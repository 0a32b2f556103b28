"""Work on passwords, in threads of its own: pages and marks of everybody else do not wait for it."""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

from app.service.rights import TooMany

T = TypeVar("T")

MOST_WAITING = 16
"""A password takes a tenth of a second, so the last one waits for under two. Our own bound."""
WAIT_S = 2


class InTurn:
    """Two queues, so that strangers never stand before those who are known here. Belongs to one event loop."""

    def __init__(self) -> None:
        self._threads = {known: ThreadPoolExecutor(1, "leadline-passwords") for known in (False, True)}
        self._waiting = {False: 0, True: 0}

    async def run(self, known: bool, work: Callable[[], T]) -> T:
        """Do the work after what came before it. `known`: of somebody signed in, or whose browser was before.

        Raises:
            TooMany: too many wait already. What `work` raises.
        """
        if self._waiting[known] >= MOST_WAITING:
            raise TooMany(WAIT_S, "Many sign in just now.")
        self._waiting[known] += 1
        try:
            return await asyncio.get_running_loop().run_in_executor(self._threads[known], work)
        finally:
            self._waiting[known] -= 1

    def close(self) -> None:
        for thread in self._threads.values():
            thread.shutdown(wait=False, cancel_futures=True)
