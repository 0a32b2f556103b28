"""The store on PostgreSQL: the contract, and what only it has: a connection that is lost, a session's settings."""

from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import psycopg
import pytest
from sqlalchemy import Connection, make_url, text
from sqlalchemy.exc import IntegrityError

from app.core.events import StepMarked
from app.store import journal, library, sound
from app.store.faults import StoreFailed, StoreFault, StoreFull
from app.store.postgres_store import PostgresStore
from app.store.verifying import verify
from tests import postgres
from tests.store.contract import StoreContract
from tests.store.making import MIGRATIONS, SENT, a_run, append, entry, send

MY_PID = "SELECT pg_backend_pid()"
OTHERS_END = (
    "SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity "
    "WHERE datname = current_database() AND pid <> pg_backend_pid()"
)


@pytest.fixture
def store(tmp_path: Path, postgres_url: str) -> Iterator[PostgresStore]:
    with PostgresStore(postgres_url, tmp_path / "data", MIGRATIONS, address="127.0.0.1:8000") as opened:
        yield opened


class TestThePostgresStore(StoreContract):
    """Every claim of the contract, on a migrated database."""


def _one(conn: Connection, said: str) -> Any:
    return conn.exec_driver_sql(said).scalar()


def _raises(code: str) -> Callable[[Connection], object]:
    """A job that meets an error of this SQLSTATE, as PostgreSQL reports it."""
    said = f"DO $$ BEGIN RAISE EXCEPTION USING ERRCODE = '{code}', MESSAGE = 'said so'; END $$"
    return lambda conn: conn.exec_driver_sql(said)


def test_every_server_of_a_database_has_its_secret_and_a_folder_of_its_own(
    store: PostgresStore, tmp_path: Path, postgres_url: str
) -> None:
    with PostgresStore(postgres_url, tmp_path / "other", MIGRATIONS) as other:
        assert other.secret == store.secret
        assert len(other.secret) == 32
    assert [file.name for file in (tmp_path / "other").iterdir()] == ["leadline.lock"]


def test_no_row_of_the_record_is_changed_or_removed(store: PostgresStore) -> None:
    append(store, a_run(store), "k1")
    origin = "INSERT INTO origin (run, at_origin, imported_at, by, source) VALUES (1, 1, '', '', '')"
    store.write(partial(_one, said=f"{origin} RETURNING run")).result()
    columns = {"revision": "title", "run": "kind", "receipt": "answer", "event": "body", "origin": "source"}
    for table, column in columns.items():
        for act in (f"UPDATE {table} SET {column} = {column}", f"DELETE FROM {table}", f"TRUNCATE {table} CASCADE"):
            with pytest.raises(IntegrityError, match="never changed or deleted"):
                store.write(partial(_one, said=act)).result()
    assert store.read(lambda conn: verify(conn, 1)).events == 1


def test_a_changed_event_and_the_guard_that_was_taken_out_are_found(store: PostgresStore) -> None:
    run = a_run(store)
    append(store, run, "k1", (StepMarked("mast/1"), StepMarked("mast/2")))
    assert store.read(sound.soundness).runs[run].ok
    assert store.read(sound.lost_guards) == ()

    def tamper(conn: Connection) -> None:
        conn.exec_driver_sql("ALTER TABLE event DISABLE TRIGGER event_no_update")
        conn.exec_driver_sql("UPDATE event SET body = replace(body, 'mast/2', 'mast/3')")

    store.write(tamper).result()
    found = store.read(sound.soundness)
    assert found.guards == ("event_no_update",)
    assert (found.runs[run].ok, found.runs[run].events) == (False, 1)
    assert "event 2 was changed" in str(found.runs[run].fault)


def test_a_guard_that_does_nothing_any_more_is_found(store: PostgresStore) -> None:
    nothing = "RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'"
    emptied = f"CREATE OR REPLACE FUNCTION leadline_refuses() {nothing}"
    store.write(lambda conn: conn.exec_driver_sql(emptied)).result()
    store.write(lambda conn: conn.exec_driver_sql("DROP TRIGGER run_no_truncate ON run")).result()
    assert store.read(sound.lost_guards) == ("run_no_truncate", "leadline_refuses")


def test_texts_stand_in_the_order_of_their_bytes_as_with_sqlite(store: PostgresStore) -> None:
    """The test's database is made with another order where PostgreSQL can; there "a" comes before "B"."""
    for name in ("a", "B", "é", "Z"):
        store.write(
            lambda conn, name=name: conn.execute(  # type: ignore[misc]
                text("INSERT INTO person VALUES (:name, 'mark', '', 1, '')"), {"name": name}
            )
        ).result()
    assert store.read(lambda conn: conn.exec_driver_sql("SELECT name FROM person ORDER BY name").scalars().all()) == [
        *("B", "Z", "a", "é")
    ]


def test_a_text_that_postgresql_has_no_place_for_is_refused_in_words(store: PostgresStore) -> None:
    run = a_run(store)
    with pytest.raises(StoreFault, match="NUL"):
        store.write(lambda conn: journal.append(conn, run, [entry()], "k\0", SENT, None)).result()
    with pytest.raises(UnicodeEncodeError):
        store.write(lambda conn: journal.append(conn, run, [entry()], "k\ud800", SENT, None)).result()
    assert append(store, run, "k1")[0].seq == 1


def test_what_was_committed_was_on_the_disk_whatever_the_database_says_by_default(
    tmp_path: Path, postgres_url: str
) -> None:
    """synchronous_commit=off loses the last commits at a crash (PostgreSQL's manual, 30.4)."""
    url = make_url(postgres_url)
    for default, has in (("off", "on"), ("local", "on"), ("remote_apply", "remote_apply")):
        lax = url.update_query_dict({"options": f"-csynchronous_commit={default}"})
        with PostgresStore(lax.render_as_string(False), tmp_path / default, MIGRATIONS) as store:
            assert store.write(partial(_one, said="SHOW synchronous_commit")).result() == has


def test_a_connection_that_ended_while_nothing_was_written_is_made_anew_unnoticed(
    store: PostgresStore, postgres_url: str
) -> None:
    run = a_run(store)
    store.read(library.runs)
    before = store.write(partial(_one, said=MY_PID)).result()
    with psycopg.connect(postgres_url.replace("+psycopg", "")) as other:
        other.execute(OTHERS_END.encode())
    assert append(store, run, "k1")[0].seq == 1
    assert store.write(partial(_one, said=MY_PID)).result() != before
    assert store.read(lambda conn: journal.head(conn, run))[0] == 1


def test_a_connection_lost_in_the_middle_is_said_and_the_same_key_again_stores_once(store: PostgresStore) -> None:
    run = a_run(store)

    def cut_off(conn: Connection) -> None:
        journal.append(conn, run, [entry()], "k1", SENT, None)
        conn.exec_driver_sql("SELECT pg_terminate_backend(pg_backend_pid())")

    with pytest.raises(StoreFailed, match="send it again"):
        store.write(cut_off).result()
    assert append(store, run, "k1")[0].seq == 1
    assert store.read(lambda conn: verify(conn, run)).events == 1


TROUBLE: tuple[tuple[str, type[StoreFailed], str], ...] = (
    ("53100", StoreFull, "disk is full"),
    ("53200", StoreFailed, "out of memory"),
    ("57014", StoreFailed, "took too long"),
    ("58030", StoreFailed, "disk of the database"),
    ("XX001", StoreFailed, "damaged"),
    ("25006", StoreFailed, "only reads"),
    ("42501", StoreFailed, "may not be used so"),
)


def test_trouble_of_the_whole_database_is_said_and_the_next_work_is_done(store: PostgresStore) -> None:
    """The codes are raised by the job, as PostgreSQL gives them (appendix A of its manual); no disk is filled."""
    run = a_run(store)
    for number, (code, fault, words) in enumerate(TROUBLE, start=1):
        with pytest.raises(fault, match=words):
            store.write(_raises(code)).result()
        assert append(store, run, code)[0].seq == number


def test_a_job_that_ends_the_transaction_is_refused_and_the_next_works(store: PostgresStore) -> None:
    run = a_run(store)
    for said in ("COMMIT", "ROLLBACK"):
        with pytest.raises(StoreFailed, match="ended the transaction"):
            store.write(partial(_one, said=said)).result()
    assert append(store, run, "a")[0].seq == 1


def test_a_failing_constraint_hurts_no_other_job(store: PostgresStore) -> None:
    run = a_run(store)
    loose = "INSERT INTO event VALUES (99, 1, 'StepMarked', 1, '{}', 0, 0, '', '', '', 'no such key', '')"
    before = send(store, run, "a")
    broken = store.write(lambda conn: conn.exec_driver_sql(loose))
    after = send(store, run, "b")
    assert (before.result()[0].seq, after.result()[0].seq) == (1, 2)
    with pytest.raises(IntegrityError):
        broken.result()


def test_readers_can_write_nothing(store: PostgresStore) -> None:
    with pytest.raises(StoreFailed, match="only reads"):
        store.read(lambda conn: conn.exec_driver_sql("DELETE FROM session"))


def test_a_database_that_stops_at_once_and_starts_again_is_found_again(tmp_path: Path) -> None:
    cluster = postgres.Cluster(quick=True)
    try:
        with PostgresStore(cluster.new_database(), tmp_path, MIGRATIONS) as store:
            heard: list[str] = []
            store.hear(heard.append)
            run = a_run(store)
            append(store, run, "k1")
            postgres.until(lambda: heard == ["all"])
            cluster.stop("immediate")
            with pytest.raises(StoreFailed, match=r"can't be reached .* send it again"):
                append(store, run, "k2")
            with pytest.raises(StoreFailed, match="can't be reached"):
                store.read(library.runs)
            assert not store.turn("players")
            cluster.start()
            assert append(store, run, "k2")[0].seq == 2
            assert [one.key for one in store.read(lambda conn: journal.read(conn, run))] == ["k1", "k2"]
            assert store.turn("players")
            postgres.until(lambda: heard == ["all", "all"])
    finally:
        cluster.close()
