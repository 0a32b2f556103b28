"""The ends of a copy that are PostgreSQL databases: one moment of one is read, an empty one is filled.

Imported only where there is such an end: the driver need not be installed.
"""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from sqlalchemy import URL, Connection, select, text, update
from sqlalchemy.exc import DBAPIError

from app.store.backup import make
from app.store.copying import TABLES, CannotCopy, be_newest, refusals, to_file
from app.store.holding import hold_tables
from app.store.migrate import newest, stands_at
from app.store.postgres_engine import shown, starting_engine
from app.store.postgres_upgrade import SECRET, at_work, in_words, prepare
from app.store.tables import KEPT

_NOBODY_ELSE = "LOCK TABLE {} IN ACCESS EXCLUSIVE MODE".format(", ".join(each.name for each in (*TABLES, KEPT)))


@contextmanager
def one_moment(url: URL) -> Iterator[Connection]:
    """A connection that sees one moment of a database, for as long as it is used. Servers may be at work on it.

    Raises:
        StoreFault: it can't be had, in words.
    """
    with ExitStack() as until:
        yield _begun(until, url, isolation_level="REPEATABLE READ", postgresql_readonly=True)


def _begun(until: ExitStack, url: URL, **options: object) -> Connection:
    engine = starting_engine(url)
    until.callback(engine.dispose)
    try:
        connection = until.enter_context(engine.connect())
        until.enter_context(connection.execution_options(**options).begin())
        connection.execute(text("SELECT 1"))
    except DBAPIError as error:
        raise in_words(url, error) from error
    return connection


def secret_in(conn: Connection) -> bytes | None:
    """The secret of the database's servers; None where none was ever started on it."""
    found = conn.execute(select(KEPT.c.value).where(KEPT.c.name == SECRET)).scalar()
    return None if found is None else bytes.fromhex(found)


@contextmanager
def nobody_else(url: URL, migrations_dir: Path, secret: bytes | None) -> Iterator[Connection]:
    """A transaction in a database with empty tables, that nobody else uses until it is committed.

    Args:
        secret: to be that of its servers from then on; None leaves it what it is.

    Raises:
        CannotCopy: there are tables of an older Leadline, or servers at work. StoreFault: it can't be had, in words.
    """
    with one_moment(url) as conn:
        if stands_at(conn, migrations_dir) not in (None, newest(migrations_dir)):
            raise CannotCopy(f"{shown(url)} has the tables of an older Leadline. Name a new database.")
    prepare(url, migrations_dir)
    with ExitStack() as until:
        conn = _begun(until, url)
        hold_tables(conn)
        if at_work(conn):
            raise CannotCopy(f"Servers are at work on {shown(url)}. Stop them first, or name another database.")
        conn.execute(text("SET LOCAL lock_timeout = '5s'"))
        conn.execute(text(_NOBODY_ELSE))
        yield conn
        if secret is not None:
            conn.execute(update(KEPT).where(KEPT.c.name == SECRET).values(value=secret.hex()))


def keep(url: URL, target: Path, migrations_dir: Path) -> Path:
    """Copy one moment of a database into a new SQLite file, as a backup, and check it.

    Raises:
        FileExistsError: there is a file of that name. NotSafe: what is stored is not sound; nothing is left of it.
        StoreFault: the database can't be had, in words. OSError: the place can't be written.
    """
    with refusals(), one_moment(url) as source:
        be_newest(source, migrations_dir)

        def fill(file: Path) -> str | None:
            to_file(source, file, migrations_dir)
            return None

        return make(target, fill)
