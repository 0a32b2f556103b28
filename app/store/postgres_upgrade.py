"""A PostgreSQL database looked at before it is used, and brought to the tables of this Leadline."""

import logging
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, text
from sqlalchemy.exc import DBAPIError
from sqlalchemy.schema import CreateSchema, DropSchema

from app.store.faults import NotSafe, StoreFailed, StoreFault, WrongDatabase
from app.store.holding import hold_tables
from app.store.migrate import config_of, newest, stands_at
from app.store.postgres_engine import SERVING, address_of, shown, starting_engine
from app.store.postgres_failures import is_of_postgres, words_of
from app.store.secret import BYTES
from app.store.tables import KEPT

logger = logging.getLogger(__name__)

OLDEST = 13
"""The oldest PostgreSQL that its makers still mended in 2025 (postgresql.org/support/versioning, from memory)."""
SECRET = "secret"

_OTHERS = text(
    "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND application_name = :serving"
)
_KEEP = text("INSERT INTO kept (name, value) VALUES (:name, :value) ON CONFLICT (name) DO NOTHING")


def prepare(url: URL, migrations_dir: Path) -> bytes:
    """Look at the database and bring it to the newest tables, or make them. Several servers may do so at once.

    Returns:
        The secret that all its servers share.

    Raises:
        StoreFault: it can't be had or used, in words; nothing was changed.
    """
    engine = starting_engine(url)
    try:
        with engine.connect() as connection:
            refuse_unfit(connection)
            connection.rollback()
        upgrade(engine, migrations_dir)
        with engine.begin() as connection:
            return _secret(connection)
    except DBAPIError as error:
        raise in_words(url, error) from error
    finally:
        engine.dispose()


def refuse_unfit(connection: Connection) -> None:
    """Raises WrongDatabase: it is too old, or keeps no UTF-8."""
    version: Any = connection.dialect.server_version_info
    if version < (OLDEST,):
        raise WrongDatabase(f"This PostgreSQL is of version {version[0]}; Leadline needs {OLDEST} or newer.")
    encoding = _shown_by(connection, "server_encoding")
    if encoding != "UTF8":
        raise WrongDatabase(
            f"This database keeps texts as {encoding}, which has no place for some signs. Make one with "
            "CREATE DATABASE ... ENCODING 'UTF8' TEMPLATE template0."
        )
    unsafe = [what for what in ("fsync", "full_page_writes") if _shown_by(connection, what) != "on"]
    if unsafe:
        logger.warning("PostgreSQL runs without %s: what was stored may be lost with its power", " and ".join(unsafe))


def _shown_by(connection: Connection, setting: str) -> str:
    return str(connection.execute(text("SELECT current_setting(:name)"), {"name": setting}).scalar_one())


def upgrade(engine: Engine, migrations_dir: Path, to: str | None = None) -> None:
    """In one transaction, which PostgreSQL can undo whole; who comes meanwhile waits for it.

    Raises:
        ForeignDatabase: it is from a newer Leadline, or not of Leadline.
        NotSafe: servers are at work on the older tables.
    """
    wanted = to or newest(migrations_dir)
    with engine.begin() as connection:
        hold_tables(connection)
        stands = stands_at(connection, migrations_dir)
        if stands == wanted:
            return
        if stands:
            _refuse_at_work(connection)
            logger.warning("the tables are brought from %s to %s; a pg_dump of before is the way back", stands, wanted)
        from alembic import command

        command.upgrade(config_of(migrations_dir, connection), wanted)


def at_work(connection: Connection) -> int:
    """How many connections servers have to this database."""
    return int(connection.execute(_OTHERS, {"serving": SERVING}).scalar_one())


def _refuse_at_work(connection: Connection) -> None:
    if others := at_work(connection):
        raise NotSafe(
            "The tables of this database are of an older Leadline, and servers are at work on it "
            f"({others} connections). Stop them all, take a pg_dump, then start this one: it brings the tables up to "
            "date."
        )


@contextmanager
def in_new_schema(database: str, migrations_dir: Path) -> Iterator[Connection]:
    """Newly made tables in a schema of their own, which is dropped at the end: whatever else is there stays."""
    url, name = address_of(database), f"leadline_check_{secrets.token_hex(8)}"
    outer, inner = starting_engine(url), starting_engine(url.update_query_dict({"options": f"-csearch_path={name}"}))
    try:
        with outer.begin() as connection:
            connection.execute(CreateSchema(name))
        upgrade(inner, migrations_dir)
        with inner.connect() as connection:
            yield connection
    finally:
        inner.dispose()
        with outer.begin() as connection:
            connection.execute(DropSchema(name, cascade=True))
        outer.dispose()


def _secret(connection: Connection) -> bytes:
    connection.execute(_KEEP, {"name": SECRET, "value": secrets.token_hex(BYTES)})
    found = connection.execute(KEPT.select().where(KEPT.c.name == SECRET)).mappings().one()
    return bytes.fromhex(found["value"])


def in_words(url: URL, error: BaseException) -> StoreFault:
    """Why a database can't be opened, and what to do: by what PostgreSQL answered."""
    where, said = shown(url), words_of(error)
    if not is_of_postgres(error):
        return StoreFailed(f"{where} can't be opened ({said}).")
    inner: Any = getattr(error, "orig", error)
    match getattr(inner, "sqlstate", None):
        case "42501":
            what = "The role may not make tables there. Make it the owner: ALTER DATABASE ... OWNER TO the role."
        case "53300":
            what = "PostgreSQL takes no more connections. Raise its max_connections, or stop what else uses it."
        case "57P03":
            what = "It is starting or stopping. Try again."
        case "25006":
            what = "It is a copy that only reads. Name the server that writes."
        case None:
            what = _remedy(said)
        case _:
            what = "Mend that, then start again."
    return StoreFailed(f"{where} can't be opened ({said}). {what}")


def _remedy(said: str) -> str:
    """By libpq's words where the answer has no code: it keeps none of what came before there was a session."""
    if "password" in said:
        return "Give the right password: in the address, in PGPASSWORD or in ~/.pgpass."
    if "does not exist" in said:
        return "Make the role and the database first: CREATE ROLE ... LOGIN, CREATE DATABASE ... OWNER."
    if "pg_hba" in said:
        return "Let the role in from this machine: a line in PostgreSQL's pg_hba.conf."
    return "See that PostgreSQL runs there, and that the address and its port are right."
