"""The shape of the tables, for Alembic and for Core statements. It holds no queries and is never instantiated.

With SQLite every table is STRICT; columns are text or whole numbers only. Those of the record are append-only: the
triggers that block UPDATE and DELETE are in the migrations, where `alembic check` does not look. Persons, sessions and
what is kept may change.
"""

from typing import Any

from sqlalchemy import ForeignKeyConstraint, MetaData, Table
from sqlalchemy.orm import registry
from sqlmodel import Field, SQLModel

from app.store.column_types import TEXT, WHOLE

NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}
"""Every constraint has a name, so that a later migration can name what it changes."""

METADATA = MetaData(naming_convention=NAMES)

STRICT = {"sqlite_strict": True}
CLUSTERED = {"sqlite_strict": True, "sqlite_with_rowid": False}
"""Rows lie in primary key order: reading one run's log is one walk along the disk."""


class Row(SQLModel, registry=registry(metadata=METADATA)):
    """The base of the tables: they share one `MetaData` of their own."""


class RevisionRow(Row, table=True):
    """A procedure text, named by the hex SHA-256 of its UTF-8 bytes. `source` is a file name."""

    __tablename__ = "revision"
    __table_args__ = (STRICT,)

    hash: str = Field(sa_type=TEXT, primary_key=True)
    procedure: str = Field(sa_type=TEXT)
    title: str = Field(sa_type=TEXT)
    text: str = Field(sa_type=TEXT)
    source: str = Field(sa_type=TEXT)
    loaded_at: str = Field(sa_type=TEXT)


class RunRow(Row, table=True):
    """One performance of one revision. Never updated: that it ended is an event."""

    __tablename__ = "run"
    __table_args__ = (STRICT,)

    run: int = Field(sa_type=WHOLE, primary_key=True)
    revision: str = Field(sa_type=TEXT, foreign_key="revision.hash")
    kind: str = Field(sa_type=TEXT)
    zero_utc: str = Field(sa_type=TEXT)
    started_at: str = Field(sa_type=TEXT)


class OriginRow(Row, table=True):
    """Of a run that was imported: its number where it was made, which its chain is over; when, by whom and from what
    file it came here.
    """

    __tablename__ = "origin"
    __table_args__ = (STRICT,)

    run: int = Field(sa_type=WHOLE, primary_key=True, foreign_key="run.run")
    at_origin: int = Field(sa_type=WHOLE)
    imported_at: str = Field(sa_type=TEXT)
    by: str = Field(sa_type=TEXT)
    source: str = Field(sa_type=TEXT)


class ReceiptRow(Row, table=True):
    """What was answered to one key of one run. `first_seq` and `last_seq` are null where no event came of it."""

    __tablename__ = "receipt"
    __table_args__ = (CLUSTERED,)

    run: int = Field(sa_type=WHOLE, primary_key=True, foreign_key="run.run")
    key: str = Field(sa_type=TEXT, primary_key=True)
    sent: str = Field(sa_type=TEXT)
    first_seq: int | None = Field(default=None, sa_type=WHOLE)
    last_seq: int | None = Field(default=None, sa_type=WHOLE)
    answer: str = Field(sa_type=TEXT)


class EventRow(Row, table=True):
    """One event of a run's log. Its key must have a receipt: neither is ever stored without the other."""

    __tablename__ = "event"
    __table_args__: Any = (ForeignKeyConstraint(["run", "key"], ["receipt.run", "receipt.key"]), CLUSTERED)

    run: int = Field(sa_type=WHOLE, primary_key=True, foreign_key="run.run")
    seq: int = Field(sa_type=WHOLE, primary_key=True)
    kind: str = Field(sa_type=TEXT)
    version: int = Field(sa_type=WHOLE)
    body: str = Field(sa_type=TEXT)
    at_s: int = Field(sa_type=WHOLE)
    logged_s: int = Field(sa_type=WHOLE)
    logged_at: str = Field(sa_type=TEXT)
    by: str = Field(sa_type=TEXT, index=True)
    station: str = Field(sa_type=TEXT)
    key: str = Field(sa_type=TEXT)
    chain: str = Field(sa_type=TEXT)


class PersonRow(Row, table=True):
    """Somebody with an account. `may` is a right of `store.people`, `password` an argon2id hash, `enabled` 0 or 1."""

    __tablename__ = "person"
    __table_args__ = (STRICT,)

    name: str = Field(sa_type=TEXT, primary_key=True)
    may: str = Field(sa_type=TEXT)
    password: str = Field(sa_type=TEXT)
    enabled: int = Field(sa_type=WHOLE)
    added_at: str = Field(sa_type=TEXT)


class SessionRow(Row, table=True):
    """Somebody signed in at a station. `token` is the hex SHA-256 of the secret that only the station holds."""

    __tablename__ = "session"
    __table_args__ = (STRICT,)

    token: str = Field(sa_type=TEXT, primary_key=True)
    person: str = Field(sa_type=TEXT, foreign_key="person.name")
    station: str = Field(sa_type=TEXT)
    begun_at: str = Field(sa_type=TEXT)
    ends_at: str = Field(sa_type=TEXT)


class KeptRow(Row, table=True):
    """What the servers of one PostgreSQL database share besides the record; with SQLite it is in files."""

    __tablename__ = "kept"
    __table_args__ = (STRICT,)

    name: str = Field(sa_type=TEXT, primary_key=True)
    value: str = Field(sa_type=TEXT)


REVISION: Table = METADATA.tables["revision"]
RUN: Table = METADATA.tables["run"]
ORIGIN: Table = METADATA.tables["origin"]
RECEIPT: Table = METADATA.tables["receipt"]
EVENT: Table = METADATA.tables["event"]
PERSON: Table = METADATA.tables["person"]
SESSION: Table = METADATA.tables["session"]
KEPT: Table = METADATA.tables["kept"]
