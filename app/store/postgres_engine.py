"""Engines for a PostgreSQL database, and what each of their sessions is set to. It knows no table."""

from collections.abc import Callable
from select import POLLIN, poll
from typing import Any

import psycopg
from psycopg.pq import ConnStatus, TransactionStatus
from psycopg.types.string import StrDumperUnknown
from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError
from sqlalchemy.pool import NullPool, QueuePool

from app.store.engine import READERS
from app.store.faults import StoreFailed, WrongDatabase
from app.store.holding import begin_job
from app.store.postgres_failures import postgres_failure_of, statement_fault_of

FORM = "postgresql+psycopg://ROLE@HOST/DATABASE"
SERVING, STARTING = "leadline", "leadline starting"
"""What our sessions call themselves, so that who starts knows who is there (pg_stat_activity)."""

OF_LINK = {
    "connect_timeout": "5",
    "keepalives_idle": "5",
    "keepalives_interval": "2",
    "keepalives_count": "3",
    "tcp_user_timeout": "10000",
}
"""A database that is cut off is known to be after about 10 s (libpq's parameters). An address may say otherwise."""

EVERY_SESSION = (
    "SET jit = off",  # our queries are short, and compiling one takes longer than it
    "SET tcp_keepalives_idle = 5",
    "SET tcp_keepalives_interval = 2",
    "SET tcp_keepalives_count = 3",  # what a server held that is cut off is free after about 10 s
)
OF_WRITER = (
    "SELECT set_config('synchronous_commit', 'on', false) "
    "WHERE current_setting('synchronous_commit') NOT IN ('on', 'remote_apply')",
    "SET lock_timeout = '10s'",
    "SET statement_timeout = '60s'",
    "SET idle_in_transaction_session_timeout = '30s'",  # a server that was stopped in the middle holds up no other
)
OF_READERS = (
    "SET SESSION CHARACTERISTICS AS TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY",
    "SET statement_timeout = '60s'",
    "SET idle_in_transaction_session_timeout = '60s'",
)

NOWHERE = "\ufffe"
"""Stands for NUL where something is looked up: neither is ever stored, so nothing is found, as with SQLite."""


def address_of(text: str) -> URL:
    """The address of a database as it was given.

    Raises:
        WrongDatabase: it is none, or not of PostgreSQL. The sentence never holds it: a password may be in it.
    """
    try:
        url = make_url(text)
    except (ArgumentError, ValueError):
        raise WrongDatabase(f"--database takes an address of the form {FORM}, and this is none.") from None
    if url.drivername == "postgresql":
        url = url.set(drivername="postgresql+psycopg")
    if url.drivername != "postgresql+psycopg":
        raise WrongDatabase(
            f"Leadline knows no database of the kind {url.drivername!r}: --database takes {FORM}. Without it the data "
            "are kept by SQLite, in the folder of --data."
        )
    if not url.database:
        raise WrongDatabase(f"--database names no database: it takes {FORM}.")
    return url


def shown(url: URL) -> str:
    """The address without its password, for sentences."""
    query = {name: value for name, value in url.query.items() if "password" not in name}
    return url.set(query=query).render_as_string(hide_password=True)


def writer_engine(url: URL) -> Engine:
    """The engine of the one connection that writes. Each statement sees what was committed before it."""
    return _engine(url, QueuePool, (*EVERY_SESSION, *OF_WRITER), SERVING, pool_size=1, max_overflow=0)


def reader_engine(url: URL) -> Engine:
    """The engine of the connections that read. Each transaction sees one moment of the database."""
    engine = _engine(
        url, QueuePool, (*EVERY_SESSION, *OF_READERS), SERVING, pool_size=READERS, max_overflow=0, pool_timeout=10
    )
    event.listen(engine, "connect", _look_up_without_nul)
    return engine


def starting_engine(url: URL) -> Engine:
    """The engine of a start: connections of their own, in which a statement may take its time."""
    return _engine(url, NullPool, EVERY_SESSION, STARTING)


def single_engine(url: URL) -> Engine:
    """The engine of what needs a session to itself, without transactions: news and turns."""
    return _engine(url, NullPool, EVERY_SESSION, SERVING, isolation_level="AUTOCOMMIT", pool_reset_on_return=None)


def _engine(url: URL, pool: type[Any], settings: tuple[str, ...], name: str, **more: Any) -> Engine:
    link = {key: value for key, value in OF_LINK.items() if key not in url.query}
    arguments = {**link, "application_name": name, "client_encoding": "utf8"}
    engine = create_engine(url, poolclass=pool, connect_args=arguments, hide_parameters=True, **more)
    event.listen(engine, "connect", _set_up(settings))
    return engine


def _set_up(settings: tuple[str, ...]) -> Callable[[Any, Any], None]:
    said = "; ".join(settings)

    def set_up(connection: psycopg.Connection[Any], _record: object) -> None:
        before, connection.autocommit = connection.autocommit, True
        connection.execute(said.encode())
        connection.autocommit = before

    return set_up


class _WithoutNul(StrDumperUnknown):
    """Writes a text for a query in which nothing is stored."""

    def dump(self, obj: str) -> Any:
        return super().dump(obj.replace("\0", NOWHERE))


def _look_up_without_nul(connection: psycopg.Connection[Any], _record: object) -> None:
    connection.adapters.register_dumper(str, _WithoutNul)


def driver(connection: Connection) -> psycopg.Connection[Any]:
    """The driver's own connection.

    Raises:
        StoreFailed: the connection has been lost.
    """
    inner: object = connection.connection.dbapi_connection
    own = getattr(inner, "driver_connection", inner)
    if not isinstance(own, psycopg.Connection) or own.closed:
        raise StoreFailed("The connection to the database was lost. It may or may not be stored: send it again.")
    return own


class PostgresDialect:
    """A PostgreSQL database, which several servers may write."""

    def failure_of(self, error: BaseException) -> StoreFailed | None:
        return postgres_failure_of(error)

    def told(self, error: BaseException) -> BaseException:
        return statement_fault_of(error) or error

    def in_transaction(self, connection: Connection) -> bool:
        return driver(connection).info.transaction_status in (TransactionStatus.INTRANS, TransactionStatus.INERROR)

    def is_stale(self, connection: Connection) -> bool:
        """Whether there is something to read where nothing was asked: as a rule the other end's farewell."""
        try:
            inner = driver(connection).pgconn
            waiting = poll()
            waiting.register(inner.socket, POLLIN)
            return bool(waiting.poll(0)) or inner.status != ConnStatus.OK
        except (StoreFailed, psycopg.Error, OSError):
            return True

    def begin_job(self, connection: Connection, first: bool) -> None:
        begin_job(connection, first)

    def clear_up(self, connection: Connection) -> None:  # noqa: ARG002
        """Whatever it was, a new connection is soon made, and may find another server of the address that writes.

        Raises:
            StoreFailed: always.
        """
        raise StoreFailed("The connection is given up.")

    def tidy(self, connection: Connection) -> None:
        pass
