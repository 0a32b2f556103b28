"""The store as the rest of Leadline sees it: write, read, tell the other servers, hear them, back up, close.

It knows no event and no page. `sqlite_store` and `postgres_store` are the two there are; `opening` chooses.
"""

from abc import ABC, abstractmethod
from collections.abc import Callable
from concurrent.futures import Future
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self, TypeVar

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import TimeoutError as NoneFree

from app.store.faults import StoreClosed, StoreFailed
from app.store.writer import Writer

T = TypeVar("T")

EVERYTHING = "all"
"""The topic of news that may have been missed: look at everything."""


class Store(ABC):
    """A database that this process has open until `close`. Safe to use from several threads.

    Attributes:
        data_dir: the folder of what is this server's own; with SQLite the database lies in it.
        secret: 32 bytes that every server of this database has, now and after a restart.
        backup_made: of an upgrade of the tables at this opening; None where there was none.
        shared: whether other servers may have the same database open.
    """

    shared = False
    data_dir: Path
    secret: bytes
    backup_made: Path | None
    _writer: Writer
    _closed = False

    def write(self, job: Callable[[Connection], T]) -> Future[T]:
        """Run the job in the writer thread, with others, in one transaction; see `Writer.submit`.

        Raises:
            StoreClosed: after `close`.
        """
        return self._writer.submit(job)

    @abstractmethod
    def read(self, job: Callable[[Connection], T]) -> T:
        """Run the job here and now on a reader's connection, which sees one moment of the database.

        What the job returns must not need the connection any more. It may be run a second time.

        Raises:
            StoreClosed: after `close`. StoreFailed: the database could not be read.
        """

    @abstractmethod
    def backup(self, target: Path) -> Path:
        """Copy the whole database, while in use, into a new file, and check the copy.

        Raises:
            FileExistsError: there is a file of that name. NotSafe: no sound copy could be made.
            StoreClosed: after `close`.
        """

    @abstractmethod
    def close(self) -> None:
        """Finish what was queued and give everything up. A second call does nothing."""

    @abstractmethod
    def hear(self, listener: Callable[[str], None]) -> None:
        """`listener(topic)` is called with what another server of this database told by `tell`, after its commit.

        Also with `EVERYTHING` after every time that news could be heard (again): what was told before may be missed.
        It is called in a thread of the store's own, one call after another; it must not take long.
        """

    @abstractmethod
    def tell(self, conn: Connection, topic: str) -> None:
        """In a job of `write`: the other servers of this database hear the topic, if and when the job is committed.

        Args:
            topic: such as ``run 7``, ``people`` or ``procedures``; at most 200 signs.
        """

    @abstractmethod
    def turn(self, name: str) -> bool:
        """Whether what only one server of a database does is this one's to do, now. To be asked each time.

        Who has a turn keeps it until it closes, dies or loses the database; then whoever asks next has it.
        """

    @abstractmethod
    def utc(self) -> datetime:
        """UTC by the clock that all servers of this database share; of one server's database this machine's."""

    def look_at_clock(self) -> None:  # noqa: B027 - nothing to do where this machine's clock is read each time
        """Have what `utc` goes by measured anew, where it is another machine's clock.

        Raises:
            StoreFault: the database can't be asked.
        """

    def _be_open(self) -> None:
        # A disposed engine would open the database again, without the lock.
        if self._closed:
            raise StoreClosed("Leadline is stopping; nothing more is read.")

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _: TracebackType | None
    ) -> None:
        self.close()


def a_reader(readers: Engine) -> Connection:
    """One of a store's connections that read.

    Raises:
        StoreFailed: all of them were busy for as long as anybody waits.
    """
    try:
        return readers.connect()
    except NoneFree as error:
        raise StoreFailed("Too many read from the database at once, so this could not be read: try again.") from error
