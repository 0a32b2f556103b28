"""The store on a SQLite file in the data folder, which one server has to itself. It knows no event and no page."""

import sqlite3
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError

from app.store.backup import copy
from app.store.clock import wall_clock
from app.store.engine import FILE_NAME, driver, failure_of, is_damage, looking_engine, reader_engine, writer_engine
from app.store.faults import Damaged, StoreFailed, printable
from app.store.migrate import stands_at, upgrade
from app.store.owner import Owner
from app.store.place import prepare
from app.store.secret import SECRET_NAME, secret
from app.store.store import Store, a_reader
from app.store.verifying import UNREADABLE, inner_words
from app.store.writer import Writer

T = TypeVar("T")

RESTORE = "Leave it as it is, and restore the last backup into a new folder: leadline restore BACKUP --data NEW."


class SqliteStore(Store):
    """One data directory, owned by this process until `close`."""

    def __init__(self, data_dir: Path, migrations_dir: Path, address: str = "") -> None:
        """Open: take the directory, bring its tables up to date, start the writer.

        Args:
            data_dir: made if it is not there.
            migrations_dir: the folder with Alembic's env.py.
            address: where this server listens, for whoever finds the directory in use.

        Raises:
            DataInUse: another server has it. NetworkFolder: SQLite cannot be trusted there.
            ForeignDatabase: written by a newer Leadline. NotSafe: no backup could be made before an upgrade.
            Damaged: it is no database, or was emptied. StoreFailed: the file cannot be opened.
            OSError: the directory cannot be made.
        """
        self.data_dir = prepare(data_dir)
        self._owner = Owner(self.data_dir, address, wall_clock())
        self._writer_engine = writer_engine(self.data_dir)
        self._readers = reader_engine(self.data_dir)
        try:
            _refuse_emptied(self.data_dir)
            _refuse_foreign(self.data_dir / FILE_NAME, migrations_dir)
            self.backup_made: Path | None = upgrade(self._writer_engine, migrations_dir)
            self.secret = secret(self.data_dir)
            self._writer = Writer(self._writer_engine)
        except BaseException as error:
            self._give_up()
            if failed := _on_opening(self.data_dir / FILE_NAME, error):
                raise failed from error
            raise

    def read(self, job: Callable[[Connection], T]) -> T:
        """See `Store.read`."""
        self._be_open()
        try:
            with a_reader(self._readers) as connection, connection.begin():
                return job(connection)
        except DBAPIError as error:
            raise (failure_of(error) or error) from error

    def backup(self, target: Path) -> Path:
        """See `Store.backup`."""
        self._be_open()
        with a_reader(self._readers) as connection:
            return copy(driver(connection), target)

    def close(self) -> None:
        """Finish what was queued, leave one file without a log beside it, and give the directory up."""
        self._closed = True
        self._writer.close(before=self._readers.dispose)
        self._give_up()

    def hear(self, listener: Callable[[str], None]) -> None:
        """There is nobody to hear: no other server writes to this database."""

    def tell(self, conn: Connection, topic: str) -> None:
        """There is nobody to tell."""

    def turn(self, name: str) -> bool:  # noqa: ARG002 - whatever it is of
        """Always: there is no other server."""
        return True

    def utc(self) -> datetime:
        """This machine's."""
        return wall_clock()

    def _give_up(self) -> None:
        self._readers.dispose()
        self._writer_engine.dispose()
        self._owner.release()


def _on_opening(file: Path, error: BaseException) -> StoreFailed | None:
    """What to raise where the database refused to be opened or brought up to date; None if it was not that."""
    failed = failure_of(error, file)
    if is_damage(error) or (failed is None and isinstance(error, DBAPIError | sqlite3.Error | UnicodeError)):
        said = printable(inner_words(error))
        return Damaged(f"{file} is damaged, or never was a database of Leadline ({said}). {RESTORE}")
    return failed


def _refuse_foreign(file: Path, migrations_dir: Path) -> None:
    """Ask before the writer opens it: that alone would change somebody else's file.

    Raises:
        ForeignDatabase: it is from a newer Leadline, or not of Leadline.
    """
    try:
        with looking_engine(file).connect() as connection:
            stands_at(connection, migrations_dir)
    except UNREADABLE:
        pass  # What is wrong with the file, the writer will meet and say.


def _refuse_emptied(folder: Path) -> None:
    """An empty file is where every folder begins; not where there are signs that it was in use before.

    SQLite would take it for a new one and throw the log beside it away.

    Raises:
        Damaged: all that was stored in it is lost.
    """
    if (folder / FILE_NAME).stat().st_size:
        return
    log = folder / f"{FILE_NAME}-wal"
    if (log.exists() and log.stat().st_size) or (folder / SECRET_NAME).exists() or any(folder.glob("*-before-*")):
        raise Damaged(f"{folder / FILE_NAME} is empty, though it was in use before. {RESTORE}")
