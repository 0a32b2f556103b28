"""The people with accounts and their sessions, as rows. It hashes no password, draws no token and reads no clock."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, delete, insert, select, update

from app.store.stamps import read_stamp, stamp
from app.store.tables import PERSON, SESSION


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody with an account.

    Attributes:
        may: ``watch``, ``mark``, ``lead`` or ``keep``.
        password: an argon2id hash in the form of the PHC string.
        enabled: a disabled account stays, for its name is in logs, but nobody signs in by it.
    """

    name: str
    may: str
    password: str
    enabled: bool
    added_at: datetime


@dataclass(frozen=True, slots=True)
class Session:
    """Somebody signed in. `token` is the hex SHA-256 of what the station sends with each request."""

    token: str
    person: str
    station: str
    begun_at: datetime
    ends_at: datetime


def people(conn: Connection) -> tuple[Person, ...]:
    """By name."""
    rows = conn.execute(select(PERSON).order_by(PERSON.c.name)).mappings()
    return tuple(
        Person(row["name"], row["may"], row["password"], bool(row["enabled"]), read_stamp(row["added_at"]))
        for row in rows
    )


def sessions(conn: Connection) -> tuple[Session, ...]:
    rows = conn.execute(select(SESSION)).mappings()
    return tuple(
        Session(row["token"], row["person"], row["station"], read_stamp(row["begun_at"]), read_stamp(row["ends_at"]))
        for row in rows
    )


def keep_person(conn: Connection, person: Person) -> None:
    """Add the person, or change the one of that name."""
    values = {"may": person.may, "password": person.password, "enabled": int(person.enabled)}
    if conn.execute(update(PERSON).where(PERSON.c.name == person.name).values(values)).rowcount == 0:
        conn.execute(insert(PERSON).values(values | {"name": person.name, "added_at": stamp(person.added_at)}))


def begin(conn: Connection, session: Session) -> None:
    """Store a session, and drop those that have ended by its beginning."""
    conn.execute(delete(SESSION).where(SESSION.c.ends_at <= stamp(session.begun_at)))
    conn.execute(
        insert(SESSION).values(
            token=session.token,
            person=session.person,
            station=session.station,
            begun_at=stamp(session.begun_at),
            ends_at=stamp(session.ends_at),
        )
    )


def end(conn: Connection, token: str) -> None:
    conn.execute(delete(SESSION).where(SESSION.c.token == token))


def end_all(conn: Connection, person: str) -> None:
    """Sign somebody out everywhere."""
    conn.execute(delete(SESSION).where(SESSION.c.person == person))
