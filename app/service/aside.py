"""Another process of this machine that works things out, so that a mark waits neither for them nor for the interpreter.

One for this process, started by the first who needs it, at a lower priority. If it dies it is started anew; where it
can't be had, what was to be worked out is worked out here.
"""

import logging
import multiprocessing
import os
import signal
from collections.abc import Callable
from concurrent.futures import CancelledError, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from functools import cache
from multiprocessing.connection import wait
from threading import Lock, Thread
from typing import TypeVar

from app.store.faults import StoreClosed

logger = logging.getLogger(__name__)

NICE = 5
"""How much the process stands back for those that serve, in steps of nice(2)."""

STOPPING = "Leadline is stopping; nothing more is looked ahead."

R = TypeVar("R")


class Aside:
    """Safe to call from several threads; calls are answered one after the other."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._pool: ProcessPoolExecutor | None = None
        self._closings = 0

    def call(self, function: Callable[..., R], *args: object) -> R:
        """`function` of these arguments, worked out there. All of it must be such as can be pickled.

        Raises whatever the function raises. StoreClosed: `close` was called meanwhile.
        """
        closings = self._closings
        for _ in range(2):
            try:
                pool = self._opened()
                return pool.submit(function, *args).result()
            except (BrokenProcessPool, CancelledError):
                if self._closings != closings:
                    raise StoreClosed(STOPPING) from None
                logger.warning("the process that looks ahead has died; it is started anew")
                self._drop(pool)
            except OSError as error:
                logger.warning("no process that looks ahead can be had: %s", error)
                break
        return function(*args)

    def close(self) -> None:
        """Let it go at once, whatever it does: it holds nothing. The next call starts it anew."""
        with self._lock:
            pool, self._pool = self._pool, None
            self._closings += 1
        if pool is not None:
            # Python 3.14 has a method for it; before, the pool's own list is the only way.
            for process in tuple((pool._processes or {}).values()):
                process.kill()
            pool.shutdown(cancel_futures=True)

    def _opened(self) -> ProcessPoolExecutor:
        with self._lock:
            if self._pool is None:
                # Not forked: a fork would copy the threads' locks as they stand, and the writer's files.
                context = multiprocessing.get_context("spawn")
                self._pool = ProcessPoolExecutor(1, context, _stand_back)
            return self._pool

    def _drop(self, broken: ProcessPoolExecutor) -> None:
        with self._lock:
            if self._pool is broken:
                self._pool = None
        broken.shutdown(wait=False, cancel_futures=True)


@cache
def aside() -> Aside:
    """The one of this process."""
    return Aside()


def _stand_back() -> None:
    """In the new process: less urgent than the server, deaf to the keyboard's Ctrl+C, and gone when the server is."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "nice"):
        os.nice(NICE)
    Thread(target=_leave_with_the_server, daemon=True).start()


def _leave_with_the_server() -> None:
    server = multiprocessing.parent_process()
    if server is not None:
        wait([server.sentinel])
        os._exit(0)
