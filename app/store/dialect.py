"""What the writer must know of the database under it, and SQLite's answers."""

from typing import Protocol

from sqlalchemy import Connection

from app.store.engine import checkpoint, driver, failure_of, in_transaction
from app.store.faults import StoreFailed

TIDY_WITHIN_MS = 200
"""How long the last checkpoint waits for a reader in another process, such as a backup: a stop takes 2 s at most."""


class Contended(StoreFailed):
    """Another server's transaction stood in the way: nothing is stored, and the same again may well be."""


class HeldTooLong(StoreFailed):
    """Another server held what one job needs for as long as anybody waits. The other jobs go on without it."""


class HeldElsewhere(BaseException):
    """A job needs what another server holds, and its transaction holds something already: it is to wait with nothing
    in hand, or two servers might wait for each other. The writer knows it; no job catches it.
    """


class Dialect(Protocol):
    """One kind of database."""

    def failure_of(self, error: BaseException) -> StoreFailed | None:
        """The fault for an error of the database as a whole; None for one of a single statement."""

    def told(self, error: BaseException) -> BaseException:
        """An error of one job as its caller is told it."""

    def in_transaction(self, connection: Connection) -> bool:
        """Whether the database itself still holds a transaction open."""

    def is_stale(self, connection: Connection) -> bool:
        """Whether a connection that did nothing for a while is known to have ended meanwhile."""

    def begin_job(self, connection: Connection, first: bool) -> None:
        """A job begins; it is the first of its transaction or not."""

    def clear_up(self, connection: Connection) -> None:
        """After a failed transaction, be sure that none is left open. Where it raises, a new connection is made."""

    def tidy(self, connection: Connection) -> None:
        """Before the writer's last connection is closed."""


class SqliteDialect:
    """A SQLite file, which the writer has to itself."""

    def failure_of(self, error: BaseException) -> StoreFailed | None:
        return failure_of(error)

    def told(self, error: BaseException) -> BaseException:
        return error

    def in_transaction(self, connection: Connection) -> bool:
        return in_transaction(connection)

    def is_stale(self, connection: Connection) -> bool:  # noqa: ARG002
        return False

    def begin_job(self, connection: Connection, first: bool) -> None:
        pass

    def clear_up(self, connection: Connection) -> None:
        connection.rollback()
        inner = driver(connection)
        if inner.in_transaction:
            inner.rollback()

    def tidy(self, connection: Connection) -> None:
        driver(connection).execute(f"PRAGMA busy_timeout={TIDY_WITHIN_MS}").close()
        checkpoint(connection)
