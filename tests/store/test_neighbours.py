"""Two stores on one PostgreSQL database, as of two servers: what each appends, hears and has the turn of."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from threading import Barrier, Event
from typing import Any

import psycopg
import pytest
from sqlalchemy import Connection

from app.store import journal, library
from app.store.faults import StoreFailed
from app.store.postgres_store import PostgresStore
from app.store.verifying import verify
from tests.postgres import until
from tests.store.making import MIGRATIONS, NOON, SENT, a_run, append, entry, send

Pair = tuple[PostgresStore, PostgresStore]


@pytest.fixture
def pair(tmp_path: Path, postgres_url: str) -> Iterator[Pair]:
    with (
        PostgresStore(postgres_url, tmp_path / "one", MIGRATIONS) as one,
        PostgresStore(postgres_url, tmp_path / "two", MIGRATIONS) as two,
    ):
        yield one, two


def _end_sessions(url: str, holding: str) -> None:
    """Have PostgreSQL end the sessions whose last statement was like this."""
    said = (
        "SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity WHERE query LIKE %s AND pid <> pg_backend_pid()"
    )
    with psycopg.connect(url.replace("+psycopg", "")) as other:
        assert other.execute(said, (holding,)).rowcount > 0


def _deadlocks(conn: Connection) -> Any:
    said = "SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()"
    return conn.exec_driver_sql(said).scalar()


def test_marks_of_two_servers_in_one_run_get_places_without_a_gap_and_one_sound_chain(pair: Pair) -> None:
    run = a_run(pair[0])
    futures = [send(store, run, f"{number} {n}") for n in range(100) for number, store in enumerate(pair)]
    assert sorted(future.result()[0].seq for future in futures) == list(range(1, 201))
    for store in pair:
        found = store.read(lambda conn: verify(conn, run))
        assert (found.ok, found.events) == (True, 200)


def test_the_same_press_at_both_servers_is_stored_once(pair: Pair) -> None:
    run = a_run(pair[0])
    futures = [send(store, run, "k1") for store in pair]
    outcomes = [future.exception() or future.result() for future in futures]
    assert sorted(type(outcome).__name__ for outcome in outcomes) == ["KeyUsed", "tuple"]
    assert pair[0].read(lambda conn: journal.head(conn, run))[0] == 1


def test_runs_that_two_servers_open_at_once_are_numbered_without_a_gap(pair: Pair) -> None:
    name = library.hash_of("procedure: mast")
    assert a_run(pair[0]) == 1
    opening = partial(library.create_run, revision=name, kind="live", zero_utc=NOON, started_at=NOON)
    opened = [store.write(opening) for _ in range(20) for store in pair]
    assert sorted(future.result() for future in opened) == list(range(2, 42))


def test_two_servers_that_take_runs_in_opposite_order_never_wait_for_each_other(pair: Pair) -> None:
    runs = [a_run(pair[0]) for _ in range(4)]
    before = pair[0].read(_deadlocks)
    futures = []
    for n in range(50):
        futures += [send(pair[0], run, f"a{n}") for run in runs]
        futures += [send(pair[1], run, f"b{n}") for run in reversed(runs)]
    for future in futures:
        assert len(future.result(30)) == 1
    for run in runs:
        assert pair[0].read(lambda conn, run=run: verify(conn, run)).events == 100  # type: ignore[misc]
    assert pair[0].read(_deadlocks) == before


def test_a_deadlock_that_happens_all_the_same_is_tried_again_and_hurts_no_one(pair: Pair) -> None:
    """Locks that are none of ours, such as two rows changed in opposite order, can stand in each other's way."""
    barrier, runs = Barrier(2), [a_run(pair[0]) for _ in range(2)]
    tried = [0, 0]

    def crossed(number: int, first: int, second: int) -> Any:
        def job(conn: Connection) -> None:
            conn.exec_driver_sql(f"SELECT pg_advisory_xact_lock(1, {first})")
            tried[number] += 1
            if tried[number] == 1:
                barrier.wait(10)
            conn.exec_driver_sql(f"SELECT pg_advisory_xact_lock(1, {second})")
            journal.append(conn, runs[number], [entry()], "k1", SENT, None)

        return job

    futures = [pair[0].write(crossed(0, 1, 2)), pair[1].write(crossed(1, 2, 1))]
    for future in futures:
        future.result(20)
    assert sorted(tried) == [1, 2]
    assert [pair[0].read(lambda conn, run=run: verify(conn, run)).events for run in runs] == [1, 1]  # type: ignore[misc]


def test_a_server_that_holds_a_run_too_long_is_told_of_in_words(pair: Pair) -> None:
    run, held, go = a_run(pair[0]), Event(), Event()

    def hold(conn: Connection) -> None:
        journal.hold(conn, run)
        held.set()
        go.wait(20)

    def impatient(conn: Connection) -> None:
        conn.exec_driver_sql("SET LOCAL lock_timeout = '100ms'")
        journal.append(conn, run, [entry()], "k1", SENT, None)

    holding = pair[0].write(hold)
    assert held.wait(5)
    with pytest.raises(StoreFailed, match="Another server of this database holds"):
        pair[1].write(impatient).result(10)
    go.set()
    holding.result(10)
    assert append(pair[1], run, "k1")[0].seq == 1


def test_news_are_heard_by_the_others_after_the_commit_and_never_of_what_was_rolled_back(pair: Pair) -> None:
    heard: list[str] = []
    own: list[str] = []
    pair[0].hear(own.append)
    pair[1].hear(heard.append)
    until(lambda: heard == own == ["all"])
    inside, go = Event(), Event()

    def told(conn: Connection) -> None:
        pair[0].tell(conn, "run 7")
        inside.set()
        go.wait(10)

    def lost(conn: Connection) -> None:
        pair[0].tell(conn, "run 8")
        raise ZeroDivisionError

    telling = pair[0].write(told)
    assert inside.wait(5)
    pair[1].write(lambda conn: pair[1].tell(conn, "procedures")).result()
    until(lambda: own == ["all", "procedures"])
    assert heard == ["all"], "what another told meanwhile has come, and this not: it is not committed"
    go.set()
    telling.result()
    with pytest.raises(ZeroDivisionError):
        pair[0].write(lost).result()
    pair[0].write(lambda conn: pair[0].tell(conn, "people")).result()
    until(lambda: heard == ["all", "run 7", "people"])
    assert own == ["all", "procedures"]


def test_who_may_have_missed_news_is_told_to_look_at_everything(pair: Pair, postgres_url: str) -> None:
    heard: list[str] = []
    pair[1].hear(heard.append)
    until(lambda: heard == ["all"])
    _end_sessions(postgres_url, "%clock_timestamp%")
    until(lambda: heard == ["all", "all"])
    pair[0].write(lambda conn: pair[0].tell(conn, "run 7")).result()
    until(lambda: heard == ["all", "all", "run 7"])


def test_a_listener_that_fails_silences_nobody(pair: Pair, caplog: pytest.LogCaptureFixture) -> None:
    heard: list[str] = []

    def failing(topic: str) -> None:
        raise RuntimeError(topic)

    pair[1].hear(failing)
    pair[1].hear(heard.append)
    until(lambda: heard == ["all"])
    pair[0].write(lambda conn: pair[0].tell(conn, "run 7")).result()
    until(lambda: heard == ["all", "run 7"])
    assert "could not be taken in: run 7" in caplog.text


def test_one_server_has_a_turn_until_it_closes(pair: Pair) -> None:
    assert [pair[0].turn("players"), pair[1].turn("players"), pair[0].turn("players")] == [True, False, True]
    assert pair[1].turn("something else")
    pair[0].close()
    until(lambda: pair[1].turn("players"))  # PostgreSQL hears a moment later that the session has ended.
    assert not pair[0].turn("players")


def test_a_turn_is_lost_with_the_connection_that_holds_it(pair: Pair, postgres_url: str) -> None:
    assert pair[0].turn("players")
    _end_sessions(postgres_url, "%pg_try_advisory_lock(%")
    assert pair[1].turn("players")
    assert not pair[0].turn("players")
    assert not pair[0].turn("players"), "and it is not taken back while the other has it"


def test_two_servers_asked_at_once_have_the_same_utc(pair: Pair) -> None:
    """Each knows it to within half the time of its quickest question: here both on one machine, so a few ms."""
    with ThreadPoolExecutor(2) as both:
        for _ in range(20):
            before = pair[0].utc()
            middle = both.submit(pair[1].utc).result()
            after = pair[0].utc()
            slack = 0.005
            assert (middle - before).total_seconds() > -slack
            assert (after - middle).total_seconds() > -slack
