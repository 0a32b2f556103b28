"""The store on a PostgreSQL database, which several servers may share. It knows no event and no page."""

import logging
import secrets
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError

from app.store.clock import wall_clock
from app.store.copy_server import keep
from app.store.dialect import Contended
from app.store.engine import FILE_NAME
from app.store.owner import Owner
from app.store.place import prepare_own
from app.store.postgres_engine import (
    PostgresDialect,
    address_of,
    driver,
    reader_engine,
    shown,
    single_engine,
    writer_engine,
)
from app.store.postgres_failures import is_lost, postgres_failure_of
from app.store.postgres_news import News, set_clock, tell
from app.store.postgres_turns import Turns
from app.store.postgres_upgrade import in_words, prepare
from app.store.shared_clock import SharedClock
from app.store.store import EVERYTHING, Store, a_reader
from app.store.writer import Writer

logger = logging.getLogger(__name__)

T = TypeVar("T")


CLOSE_WITHIN_S = 5.0
"""A COMMIT can wait for ever, such as for a synchronous standby that is gone. Our own bound, for a stop to come to an
end."""


class PostgresStore(Store):
    """A database at an address; the folder is this server's alone."""

    shared = True
    backup_made = None

    def __init__(self, database: str, data_dir: Path, migrations_dir: Path, address: str = "") -> None:
        """Open: take the folder, bring the tables up to date, start the writer and hear the other servers.

        Args:
            database: ``postgresql+psycopg://...``.
            data_dir: made if it is not there. migrations_dir, address: as for SQLite.

        Raises:
            WrongDatabase: no address of PostgreSQL, or one that is too old or keeps no UTF-8.
            DataInUse: another server has the folder. StoreFailed: the database can't be reached or opened.
            ForeignDatabase: written by a newer Leadline, or not of Leadline.
            NotSafe: its tables are of an older Leadline, and other servers use it. OSError: the folder can't be made.
        """
        self._url, self._migrations_dir = address_of(database), migrations_dir
        self.data_dir = prepare_own(data_dir)
        self._owner = Owner(self.data_dir, address, wall_clock())
        self._me = secrets.token_hex(8)
        self._writer_engine, self._readers = writer_engine(self._url), reader_engine(self._url)
        self._singles = single_engine(self._url)
        self._clock = SharedClock()
        try:
            self.secret = prepare(self._url, migrations_dir)
            self._set_clock()
        except BaseException:
            self._give_up()
            raise
        if (self.data_dir / FILE_NAME).exists():
            logger.warning("%s lies in the folder and is not used: the data are in %s", FILE_NAME, shown(self._url))
        self._turns = Turns(self._singles)
        self._news = News(self._singles, self._me, self._clock, EVERYTHING)
        self._writer = Writer(self._writer_engine, PostgresDialect(), self._news.doubt)

    def _set_clock(self) -> None:
        try:
            with self._singles.connect() as connection:
                set_clock(self._clock, driver(connection))
        except DBAPIError as error:
            raise in_words(self._url, error) from error

    def read(self, job: Callable[[Connection], T]) -> T:
        """As `Store.read`. Tried once more where the connection was lost, or a standby had to cut the read short."""
        try:
            return self._read(job)
        except DBAPIError as error:
            failed = postgres_failure_of(error)
            if not (is_lost(error) or isinstance(failed, Contended)):
                raise (failed or error) from error
        try:
            return self._read(job)
        except DBAPIError as error:
            raise (postgres_failure_of(error) or error) from error

    def _read(self, job: Callable[[Connection], T]) -> T:
        self._be_open()
        with a_reader(self._readers) as connection, connection.begin():
            return job(connection)

    def backup(self, target: Path) -> Path:
        """See `Store.backup`."""
        self._be_open()
        return keep(self._url, target, self._migrations_dir)

    def close(self) -> None:
        """Finish what was queued, if the database answers; leave the turns to others, and give the folder up."""
        if self._closed:
            return
        self._closed = True
        self._turns.close()
        self._news.close()
        self._writer.close(before=self._readers.dispose, within_s=CLOSE_WITHIN_S)
        self._give_up()

    def hear(self, listener: Callable[[str], None]) -> None:
        self._news.hear(listener)

    def tell(self, conn: Connection, topic: str) -> None:
        tell(conn, self._me, topic)

    def turn(self, name: str) -> bool:
        return self._turns.turn(name)

    def utc(self) -> datetime:
        return self._clock.utc()

    def look_at_clock(self) -> None:
        self._be_open()
        self._set_clock()

    def _give_up(self) -> None:
        for engine in (self._readers, self._writer_engine, self._singles):
            engine.dispose()
        self._owner.release()
