"""News between the servers of one PostgreSQL database, by LISTEN and NOTIFY; and the thread that sets the shared clock.

A notification is sent when the transaction that tells it is committed, and not when it is rolled back.
"""

import logging
import random
import time
from collections.abc import Callable
from contextlib import suppress
from queue import Empty, SimpleQueue
from threading import Event, Thread
from typing import Any, cast

import psycopg
from sqlalchemy import Connection, Engine, text
from sqlalchemy.exc import DBAPIError

from app.store.faults import StoreFailed
from app.store.postgres_engine import driver
from app.store.postgres_failures import words_of
from app.store.shared_clock import SharedClock

logger = logging.getLogger(__name__)

CHANNEL = "leadline"
CLOCK_EACH_S = 10.0
LOOK_EACH_S = 0.25
"""How long the thread waits for news at most before it looks whether it is to end."""
FIRST_WAIT_S, LONGEST_WAIT_S = 0.25, 4.0
"""Between tries to have a lost connection again: doubled each time, with up to as much again by chance."""
LOOK_AGAIN_S = (0.0, 1.0, 5.0, 20.0)
"""How long after a COMMIT without an answer all is looked at: the database may still be at it. Our own choice."""

Listener = Callable[[str], None]

_TELL = text("SELECT pg_notify('leadline', :said)")
_UTC = "SELECT extract(epoch FROM clock_timestamp())::float8"


def tell(conn: Connection, me: str, topic: str) -> None:
    """The other servers hear the topic once this transaction is committed."""
    conn.execute(_TELL, {"said": f"{me} {topic}"})


def set_clock(clock: SharedClock, connection: psycopg.Connection[Any]) -> None:
    """Set the shared clock by the database's."""
    clock.set_by(lambda: cast(float, connection.execute(_UTC).fetchone()[0]))  # type: ignore[index]


class News:
    """A thread with a connection of its own, which it makes again and again when it is lost."""

    def __init__(self, engine: Engine, me: str, clock: SharedClock, lost: str) -> None:
        """`lost`: what every listener is told whenever something may have been missed."""
        self._engine, self._me, self._clock, self._lost = engine, me, clock, lost
        self._listeners: list[Listener] = []
        self._fresh: SimpleQueue[Listener] = SimpleQueue()
        self._doubts: SimpleQueue[float] = SimpleQueue()
        self._looks: list[float] = []
        self._ending = Event()
        self._silent = ""
        self._thread = Thread(target=self._run, name="leadline-news", daemon=True)
        self._thread.start()

    def hear(self, listener: Listener) -> None:
        """From now on; what was told before is not told again, except that everything may have changed."""
        self._fresh.put(listener)

    def doubt(self) -> None:
        """Of what this server stored itself it does not know whether it is: have every listener look at everything,
        at once and again later. In any thread."""
        logger.warning("the database did not answer whether something is stored: all is read again")
        now = time.monotonic()
        for wait_s in LOOK_AGAIN_S:
            self._doubts.put(now + wait_s)

    def close(self) -> None:
        """Hear nothing more. It takes a quarter of a second at most, unless a listener takes longer."""
        self._ending.set()
        self._thread.join(LONGEST_WAIT_S)

    def _run(self) -> None:
        wait_s = FIRST_WAIT_S
        while not self._ending.is_set():
            try:
                with self._engine.connect() as connection:
                    inner = driver(connection)
                    inner.execute(f"LISTEN {CHANNEL}".encode())
                    wait_s = FIRST_WAIT_S
                    self._listen(inner)
            except (DBAPIError, psycopg.Error, StoreFailed) as error:
                self._say_silent(words_of(error))
            except Exception:
                logger.exception("no news of other servers")
            self._ending.wait(wait_s * (1 + random.random()))
            wait_s = min(2 * wait_s, LONGEST_WAIT_S)

    def _say_silent(self, why: str) -> None:
        """Once for each loss, however often the connection is tried."""
        if not self._silent:
            logger.warning("the database is not there, so nothing is heard of other servers: %s", why)
        self._silent = why

    def _listen(self, connection: psycopg.Connection[Any]) -> None:
        if self._silent:
            logger.warning("the database is there again")
            self._silent = ""
        self._tell_lost()
        clock_at_s = 0.0
        while not self._ending.is_set():
            if time.monotonic() >= clock_at_s:
                set_clock(self._clock, connection)
                clock_at_s = time.monotonic() + CLOCK_EACH_S
            self._take_fresh()
            self._take_doubts()
            for heard in connection.notifies(timeout=LOOK_EACH_S, stop_after=1):
                sender, _, topic = heard.payload.partition(" ")
                for listener in self._listeners if sender != self._me else ():
                    self._call(listener, topic)

    def _tell_lost(self) -> None:
        for listener in self._listeners:
            self._call(listener, self._lost)

    def _take_doubts(self) -> None:
        with suppress(Empty):
            while True:
                self._looks.append(self._doubts.get_nowait())
        now = time.monotonic()
        later = [each for each in self._looks if each > now]
        is_due, self._looks = len(later) < len(self._looks), later
        if is_due:
            self._tell_lost()

    def _take_fresh(self) -> None:
        with suppress(Empty):
            while True:
                listener = self._fresh.get_nowait()
                self._listeners.append(listener)
                self._call(listener, self._lost)

    def _call(self, listener: Listener, topic: str) -> None:
        try:
            listener(topic)
        except Exception:
            logger.exception("what another server told could not be taken in: %s", topic)
