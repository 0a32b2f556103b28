"""The connections are as HARM.md asks: settings, locks, strict types, and triggers against rewriting."""

import sqlite3
from functools import partial
from threading import Event

import pytest
from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError, IntegrityError, OperationalError

from app.store import journal
from app.store.engine import driver, failure_of, reader_engine, writer_engine
from app.store.faults import StoreFailed, StoreFull
from app.store.store import Store
from tests.store.making import SENT, a_run, append, entry


def _pragma(conn: Connection, name: str) -> object:
    return conn.exec_driver_sql(f"PRAGMA {name}").scalar_one()


WRITER = {
    "journal_mode": "wal",
    "synchronous": 2,
    "foreign_keys": 1,
    "recursive_triggers": 1,
    "busy_timeout": 5000,
    "wal_autocheckpoint": 1000,
    "query_only": 0,
}
READER = WRITER | {"wal_autocheckpoint": 0, "query_only": 1}


@pytest.mark.parametrize("name", WRITER)
def test_the_connections_really_have_the_settings(store: Store, name: str) -> None:
    assert store.write(lambda conn: _pragma(conn, name)).result() == WRITER[name]
    assert store.read(lambda conn: _pragma(conn, name)) == READER[name]


def test_a_reader_cannot_write(store: Store) -> None:
    with pytest.raises(StoreFailed, match="may not be written"):
        store.read(lambda conn: conn.exec_driver_sql("INSERT INTO revision VALUES ('a','b','c','d','e','f')"))


def test_a_second_writer_waits_and_cannot_take_the_same_seq(store: Store) -> None:
    run = a_run(store)
    second = writer_engine(store.data_dir)
    inside, seen = Event(), Event()

    def slow(conn: Connection) -> int:
        (logged,) = journal.append(conn, run, [entry()], "first", SENT, None)
        inside.set()
        seen.wait(5)
        return logged.seq

    first = store.write(slow)
    assert inside.wait(5)
    with second.connect() as other:
        driver(other).execute("PRAGMA busy_timeout=50").close()
        with pytest.raises(OperationalError, match="locked"):
            other.begin()
        seen.set()
        assert first.result() == 1
        with other.begin():
            assert journal.append(other, run, [entry()], "second", SENT, None)[0].seq == 2
    second.dispose()


@pytest.mark.parametrize("table", ["revision", "run", "receipt", "event"])
def test_no_stored_row_is_changed_deleted_or_replaced(store: Store, table: str) -> None:
    append(store, a_run(store), "k1")
    column = {"revision": "title", "run": "kind", "receipt": "answer", "event": "body"}[table]
    for said in (
        f"UPDATE {table} SET {column} = 'x'",
        f"DELETE FROM {table}",
        f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}",
        f"REPLACE INTO {table} SELECT * FROM {table}",
        f"INSERT INTO {table} SELECT * FROM {table} WHERE true ON CONFLICT DO UPDATE SET {column} = 'x'",
    ):
        with pytest.raises(IntegrityError, match="never changed or deleted"):
            store.write(partial(Connection.exec_driver_sql, statement=said)).result()


def test_no_table_is_other_than_strict(store: Store) -> None:
    rows = store.read(lambda conn: conn.exec_driver_sql("SELECT name, strict FROM pragma_table_list").all())
    ours = {row.name: row.strict for row in rows if not row.name.startswith("sqlite_")}
    strict = ("revision", "run", "receipt", "event", "person", "session", "origin", "kept")
    assert ours == dict.fromkeys(strict, 1) | {"alembic_version": 0}


def test_a_value_of_the_wrong_type_is_refused(store: Store) -> None:
    run = a_run(store)
    wrong = "INSERT INTO receipt (run, key, sent, first_seq, answer) VALUES (?, 'k', 's', 'one', 'null')"
    with pytest.raises(IntegrityError, match="TEXT value in INTEGER column"):
        store.write(lambda conn: conn.exec_driver_sql(wrong, (run,))).result()


def test_a_seq_is_given_once(store: Store) -> None:
    run = a_run(store)
    append(store, run, "k1")
    again = "INSERT INTO event SELECT run, 1, kind, 1, body, 0, 0, logged_at, by, station, key, chain FROM event"
    again = again.replace(" by,", ' "by",')
    with pytest.raises(IntegrityError, match="UNIQUE"):
        store.write(lambda conn: conn.exec_driver_sql(again)).result()
    assert store.read(lambda conn: journal.head(conn, run))[0] == 1


def test_an_event_without_a_receipt_is_refused(store: Store) -> None:
    run = a_run(store)
    lone = "INSERT INTO event VALUES (?, 1, 'StepMarked', 1, '{}', 0, 0, '', '', '', 'no such key', '')"
    with pytest.raises(IntegrityError, match="FOREIGN KEY"):
        store.write(lambda conn: conn.exec_driver_sql(lone, (run,))).result()


def test_a_constraint_is_no_failure_of_the_database() -> None:
    assert failure_of(IntegrityError("INSERT", None, sqlite3.IntegrityError("UNIQUE"))) is None
    assert failure_of(ValueError("x")) is None


@pytest.mark.parametrize(
    ("code", "kind"), [(13, StoreFull), (4874, StoreFull), (10, StoreFailed), (778, StoreFailed), (11, StoreFailed)]
)
def test_a_failing_disk_is_told_from_a_full_one(code: int, kind: type[StoreFailed]) -> None:
    inner = sqlite3.OperationalError("said by SQLite")
    inner.sqlite_errorcode = code
    assert type(failure_of(OperationalError("INSERT", None, inner))) is kind
    assert isinstance(failure_of(DBAPIError("INSERT", None, inner)), StoreFailed)


def test_readers_do_not_wait_for_the_writer(store: Store) -> None:
    run = a_run(store)
    readers = reader_engine(store.data_dir)

    def read_meanwhile(_conn: Connection) -> int:
        with readers.connect() as other, other.begin():
            return journal.head(other, run)[0]

    assert store.write(read_meanwhile).result() == 0
    readers.dispose()
