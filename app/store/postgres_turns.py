"""Whose turn it is, of the servers of one PostgreSQL database, to do what only one is to do."""

import logging
import zlib
from threading import Lock

from sqlalchemy import Connection, Engine, text
from sqlalchemy.exc import DBAPIError

from app.store.holding import TURNS

logger = logging.getLogger(__name__)

_TRY = text("SELECT pg_try_advisory_lock(:class, :number)")
_THERE = text("SELECT 1")


class Turns:
    """Locks of one session, which PostgreSQL drops with it. Safe to use from several threads."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._lock = Lock()
        self._connection: Connection | None = None
        self._mine: set[str] = set()
        self._closed = False

    def turn(self, name: str) -> bool:
        """Whether the turn is ours, asked of the database now; no where it can't be asked."""
        with self._lock:
            if self._closed:
                return False
            try:
                return self._asked(name)
            except DBAPIError:
                self._let_go()
                return False

    def close(self) -> None:
        """Leave every turn to others."""
        with self._lock:
            self._closed = True
            self._let_go()

    def _asked(self, name: str) -> bool:
        if self._connection is None:
            self._connection = self._engine.connect()
        if name in self._mine:
            self._connection.execute(_THERE)
            return True
        number = zlib.crc32(name.encode()) - 2**31
        if not self._connection.execute(_TRY, {"class": TURNS, "number": number}).scalar_one():
            return False
        self._mine.add(name)
        logger.info("this server has the turn of %s", name)
        return True

    def _let_go(self) -> None:
        held, self._connection = self._connection, None
        self._mine.clear()
        if held is not None:
            held.invalidate()
            held.close()
