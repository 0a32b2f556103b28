"""What a store on PostgreSQL does where it would have to wait: for a run, for a free reader, for an answer."""

from collections.abc import Iterator
from pathlib import Path
from threading import Event
from time import monotonic
from typing import Any

import psycopg
import pytest
from sqlalchemy import Connection, event

from app.store import postgres_news, postgres_store
from app.store.engine import READERS
from app.store.faults import StoreFailed
from app.store.holding import CLASS
from app.store.opening import open_store
from app.store.postgres_store import PostgresStore
from app.store.store import Store
from tests.postgres import until
from tests.store.making import MIGRATIONS, a_run, append, send


@pytest.fixture
def store(tmp_path: Path, postgres_url: str) -> Iterator[PostgresStore]:
    with PostgresStore(postgres_url, tmp_path / "data", MIGRATIONS) as opened:
        yield opened


def _statements(store: Any) -> list[tuple[str, Any]]:
    """Those of the writer from now on, with what they were given."""
    seen: list[tuple[str, Any]] = []
    event.listen(store._writer_engine, "before_cursor_execute", lambda *said: seen.append((said[2], said[3])))
    return seen


def test_a_run_that_another_server_does_not_let_go_of_holds_up_no_order_in_another_run(
    store: PostgresStore, postgres_url: str
) -> None:
    held, free = a_run(store), a_run(store)
    store.write(lambda conn: conn.exec_driver_sql("SET lock_timeout = '300ms'").close()).result()
    seen, go = _statements(store), Event()
    with psycopg.connect(postgres_url.replace("+psycopg", "")) as other:
        other.execute("SELECT pg_advisory_xact_lock(%s, %s)", (CLASS, held))
        store.write(lambda _: go.wait(10))
        waiting = [send(store, run, key) for run, key in ((held, "a"), (free, "b"), (held, "c"), (free, "d"))]
        go.set()
        for future in waiting[::2]:
            with pytest.raises(StoreFailed, match=r"does not let go .* send it again"):
                future.result(20)
        assert [future.result(20)[0].seq for future in waiting[1::2]] == [1, 2]
    waits = [given for said, given in seen if "pg_advisory_xact_lock" in said and given["run"] == held]
    assert len(waits) == 1, "nobody waits again at once for what was waited for in vain"
    assert append(store, held, "a")[0].seq == 1


def _too_many(store: Any) -> None:
    store._readers.pool._timeout = 0.05
    busy = [store._readers.connect() for _ in range(READERS)]
    try:
        with pytest.raises(StoreFailed, match="Too many read"):
            store.read(lambda conn: conn.exec_driver_sql("SELECT 1").scalar())
    finally:
        for each in busy:
            each.close()
    assert store.read(lambda conn: conn.exec_driver_sql("SELECT 1").scalar()) == 1


def test_who_finds_no_reader_free_is_told_so_as_of_any_trouble_of_the_database(store: PostgresStore) -> None:
    _too_many(store)


def test_so_it_is_with_sqlite(tmp_path: Path) -> None:
    with open_store(tmp_path, MIGRATIONS, "test", None) as store:
        _too_many(store)


def test_a_store_that_closes_lets_go_of_what_the_database_does_not_answer(
    store: PostgresStore, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(postgres_store, "CLOSE_WITHIN_S", 0.3)
    inside = Event()

    def slow(conn: Connection) -> None:
        inside.set()
        conn.exec_driver_sql("SELECT pg_sleep(30)")

    waiting = [store.write(slow)]
    assert inside.wait(5)
    waiting.append(store.write(lambda _: None))
    begun = monotonic()
    store.close()
    assert monotonic() - begun < 15
    for future in waiting:
        with pytest.raises(StoreFailed, match="may or may not be stored"):
            future.result(0)
    assert "is let go of" in caplog.text


def test_after_a_commit_without_an_answer_all_is_looked_at_and_again_later(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The database may have been at it still: its answer says when it is done, and there was none."""
    monkeypatch.setattr(postgres_news, "LOOK_AGAIN_S", (0.0, 0.6))
    heard: list[str] = []
    store.hear(heard.append)
    until(lambda: heard == ["all"])

    def committed_and_lost(connection: Any) -> None:
        connection.commit()
        raise psycopg.OperationalError("the connection was lost")

    with monkeypatch.context() as losing:
        losing.setattr(store._writer._engine.dialect, "do_commit", committed_and_lost)
        with pytest.raises(StoreFailed, match="may or may not be stored"):
            store.write(lambda _: None).result()
    until(lambda: heard == ["all", "all", "all"])
