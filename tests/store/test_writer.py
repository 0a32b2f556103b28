"""Group commit: one commit for many, each job for itself, and a disk that is full for a while."""

from concurrent.futures import Future
from pathlib import Path
from threading import Event
from typing import Any

import pytest
from sqlalchemy import Connection, event
from sqlalchemy.exc import IntegrityError

from app.store import journal
from app.store.engine import driver, writer_engine
from app.store.faults import StoreFailed, StoreFull
from app.store.place import prepare
from app.store.store import Store
from app.store.verifying import verify
from app.store.writer import Writer
from tests.store.making import SENT, a_run, append, entry, send

LOOSE_EVENT = "INSERT INTO event VALUES (99, 1, 'StepMarked', 1, '{}', 0, 0, '', '', '', 'no such key', '')"


class _Gate:
    """Holds the writer inside a job, so that what is submitted meanwhile shares the next commit."""

    def __init__(self, store: Store) -> None:
        self._open = Event()
        inside = Event()

        def hold(_conn: Connection) -> None:
            inside.set()
            self._open.wait(5)

        self._held = store.write(hold)
        assert inside.wait(5)

    def open(self) -> None:
        self._open.set()
        self._held.result(5)


def _statements(store: Store) -> list[str]:
    seen: list[str] = []
    store.write(lambda conn: driver(conn).set_trace_callback(seen.append)).result()
    return seen


def test_jobs_that_wait_share_one_commit(store: Store) -> None:
    run = a_run(store)
    gate = _Gate(store)
    waiting = [send(store, run, f"k{n}") for n in range(20)]
    trace = store.write(lambda conn: driver(conn).set_trace_callback(None))
    gate.open()
    assert [future.result()[0].seq for future in waiting] == list(range(1, 21))
    trace.result()
    seen = _statements(store)
    gate = _Gate(store)
    waiting = [send(store, run, f"l{n}") for n in range(20)]
    gate.open()
    wait_for = [future.result() for future in waiting]
    assert len(wait_for) == 20
    commits = [said for said in seen if said.startswith("COMMIT")]
    assert len(commits) == 3, "one each of the tracing job, the gate, and all twenty marks"


def test_a_result_is_given_only_after_commit(store: Store) -> None:
    run = a_run(store)
    seen = _statements(store)
    store.write(lambda conn: driver(conn).set_trace_callback(seen.append)).result()
    seen.clear()
    future = send(store, run, "k1")
    future.add_done_callback(lambda _: seen.append("answered"))
    future.result()
    append(store, run, "k2")
    assert seen[0] == "BEGIN IMMEDIATE"
    assert seen[seen.index("answered") - 1] == "COMMIT"


def test_a_failing_job_is_rolled_back_alone_within_a_shared_commit(store: Store) -> None:
    run = a_run(store)
    gate = _Gate(store)

    def constraint(conn: Connection) -> None:
        journal.append(conn, run, [entry()], "lost", SENT, None)
        conn.exec_driver_sql(LOOSE_EVENT)

    before, broken, after = send(store, run, "a"), store.write(constraint), send(store, run, "b")
    gate.open()
    assert (before.result()[0].seq, after.result()[0].seq) == (1, 2)
    with pytest.raises(IntegrityError):
        broken.result()
    assert store.read(lambda conn: verify(conn, run)).ok
    assert store.read(lambda conn: journal.receipt(conn, run, "lost")) is None


def test_even_a_job_that_asks_the_program_to_exit_is_answered(store: Store) -> None:
    def leave(_conn: Connection) -> None:
        raise SystemExit(3)

    with pytest.raises(SystemExit):
        store.write(leave).result(5)
    assert a_run(store) == 1


def test_when_the_commit_fails_every_job_in_it_is_told_and_the_next_works(store: Store) -> None:
    run = a_run(store)
    gate = _Gate(store)

    def poison(conn: Connection) -> None:
        # A deferred constraint is checked at COMMIT: the same path as a disk that fails there.
        conn.exec_driver_sql("PRAGMA defer_foreign_keys=ON")
        conn.exec_driver_sql(LOOSE_EVENT)

    futures: list[Future[Any]] = [send(store, run, "a"), store.write(poison), send(store, run, "b")]
    gate.open()
    for future in futures:
        with pytest.raises(StoreFailed, match="Nothing was stored"):
            future.result(5)
    assert store.read(lambda conn: journal.head(conn, run))[0] == 0
    assert append(store, run, "a")[0].seq == 1


@pytest.mark.parametrize("said", ["COMMIT", "ROLLBACK"])
def test_a_job_that_ends_the_transaction_is_refused_and_the_next_works(store: Store, said: str) -> None:
    run = a_run(store)
    with pytest.raises(StoreFailed, match="ended the transaction"):
        store.write(lambda conn: conn.exec_driver_sql(said)).result(5)
    with pytest.raises(StoreFailed, match="ended the transaction"):
        store.write(lambda conn: conn.rollback()).result(5)
    assert append(store, run, "a")[0].seq == 1


def test_a_full_disk_is_said_and_marks_work_again_when_there_is_room(store: Store) -> None:
    run = a_run(store)

    def pages(limit: int) -> int:
        said = f"PRAGMA max_page_count={limit}"
        return int(store.write(lambda conn: conn.exec_driver_sql(said).scalar_one()).result())

    append(store, run, "k0")
    full_at = pages(1)  # SQLite never sets it below the pages in use, and answers with what it set
    futures = [send(store, run, f"k{n}") for n in range(1, 400)]
    failed = [future for future in futures if future.exception(5) is not None]
    assert failed
    assert {type(future.exception()) for future in failed} == {StoreFull}
    with pytest.raises(StoreFull, match="disk is full"):
        failed[0].result()
    stored = 1 + len(futures) - len(failed)
    assert store.read(lambda conn: journal.head(conn, run))[0] == stored, "screens go on reading"
    with pytest.raises(StoreFull):
        store.write(lambda conn: conn.exec_driver_sql("CREATE TABLE more (x TEXT) STRICT")).result()
    assert pages(full_at + 100) == full_at + 100
    assert append(store, run, "again")[0].seq == stored + 1
    assert store.read(lambda conn: verify(conn, run)).ok


def test_the_thread_outlives_an_error_of_any_kind(tmp_path: Path) -> None:
    prepare(tmp_path)
    engine = writer_engine(tmp_path)
    trouble = [RuntimeError("out of the blue")]

    def on_begin(_conn: Connection) -> None:
        if trouble:
            raise trouble.pop()

    event.listen(engine, "begin", on_begin)
    writer = Writer(engine)
    with pytest.raises(StoreFailed, match="out of the blue"):
        writer.submit(lambda conn: conn.exec_driver_sql("SELECT 1").scalar_one()).result(5)
    assert writer.submit(lambda conn: conn.exec_driver_sql("SELECT 1").scalar_one()).result(5) == 1
    writer.close()
    engine.dispose()


def test_a_future_cancelled_in_time_stores_nothing(store: Store) -> None:
    run = a_run(store)
    gate = _Gate(store)
    first, second = send(store, run, "a"), send(store, run, "b")
    assert first.cancel()
    gate.open()
    assert second.result()[0].seq == 1
    assert store.read(lambda conn: journal.receipt(conn, run, "a")) is None
