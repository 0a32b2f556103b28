"""What a server has in memory when the database answers late, wrongly or not at all: in the end what is stored."""

import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import psycopg
import pytest

from app.core.commands import AddNote, Refusal
from app.service.held import ALL_RUNS
from app.service.neighbours import Neighbours
from app.store import journal
from app.store.faults import RunDamaged, StoreFailed
from tests.postgres import Cluster
from tests.service.making import sender, small_run
from tests.service.test_neighbours import note
from tests.service.two_servers import One, server, two_servers, until
from tests.web.accounts import PASSWORD, quick


class _Line:
    """Carries what is said to a PostgreSQL and back; it can lose the answer to the next COMMIT, and the connection."""

    def __init__(self, port: int) -> None:
        self.loses_next = False
        self._to = port
        self._sockets = [socket.create_server(("127.0.0.1", 0))]
        self._threads: list[threading.Thread] = []
        self.port = int(self._sockets[0].getsockname()[1])
        self._start(self._accept)

    def _start(self, work: Callable[..., None], *given: object) -> None:
        self._threads.append(threading.Thread(target=work, args=given, daemon=True))
        self._threads[-1].start()

    def close(self) -> None:
        for each in self._sockets:
            with suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)
        for thread in self._threads:
            thread.join(5)
        for each in self._sockets:
            each.close()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                ends = self._sockets[0].accept()[0], socket.create_connection(("127.0.0.1", self._to))
                self._sockets.extend(ends)
                lost = threading.Event()
                self._start(self._carry, *ends, True, lost)
                self._start(self._carry, *reversed(ends), False, lost)

    def _carry(self, from_: socket.socket, to: socket.socket, asks: bool, lost: threading.Event) -> None:
        with suppress(OSError):
            while said := from_.recv(65536):
                if asks and self.loses_next and b"COMMIT" in said:
                    self.loses_next = False
                    lost.set()
                elif not asks and lost.is_set():
                    break
                to.sendall(said)
        for end in (from_, to):
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)


@pytest.fixture
def line(postgres_cluster: Cluster) -> Iterator[_Line]:
    made = _Line(postgres_cluster.port)
    yield made
    made.close()


@contextmanager
def _behind(line: _Line, url: str, cluster: Cluster, folder: Path) -> Iterator[One]:
    with server(folder, url.replace(f":{cluster.port}/", f":{line.port}/")) as here:
        yield here


@pytest.fixture(scope="module")
def url(postgres_cluster: Cluster) -> Iterator[str]:
    """One database for all of these tests: see `test_neighbours`."""
    made = postgres_cluster.new_database()
    yield made
    postgres_cluster.drop_database(made)


@pytest.fixture(scope="module")
def deaf(tmp_path_factory: pytest.TempPathFactory, url: str) -> Iterator[tuple[One, One]]:
    with two_servers(tmp_path_factory.mktemp("deaf"), url, hearing=False) as made:
        yield made


@pytest.fixture
def _quickly(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.service.passwords._hasher", quick)


def _as_stored(one: One, run: int) -> bool:
    return one.service.run(run).log == one.store.read(lambda conn: journal.read(conn, run))


def _hears_only_here(one: One, monkeypatch: pytest.MonkeyPatch) -> Neighbours:
    """What it hears is what the test says."""
    with monkeypatch.context() as deafened:
        deafened.setattr(one.store, "hear", lambda _: None)
        return Neighbours(one.service, one.people)


def _tamper(cluster: Cluster, url: str, *said: str) -> None:
    """Change what no server may change, as a superuser who has the guards asleep."""
    with psycopg.connect(cluster.conninfo(url.rpartition("/")[2]), autocommit=True) as other:
        for each in ("SET session_replication_role = replica", *said):
            other.execute(each.encode())


@pytest.mark.usefixtures("_quickly")
def test_what_is_stored_though_the_answer_to_its_commit_was_lost_is_here_too(
    tmp_path: Path, line: _Line, url: str, postgres_cluster: Cluster
) -> None:
    with _behind(line, url, postgres_cluster, tmp_path) as here:
        here.hear()
        run = small_run(here.service)
        live = here.service.run(run)
        line.loses_next = True
        with pytest.raises(StoreFailed, match="may or may not be stored"):
            note(here.service, run)
        until(lambda: live.state.seq == 2, "the note that was stored")
        until(lambda: (run, 2) in here.told, "word of it to the screens")
        here.people.add("Kofi", "keep", PASSWORD)
        here.people.add("Mara", "lead", PASSWORD)
        line.loses_next = True
        with pytest.raises(StoreFailed, match="may or may not be stored"):
            here.people.change("Mara", enabled=False)
        until(lambda: [each.enabled for each in here.people.everybody()] == [True, False], "that Mara is disabled")
        assert here.people.change("Mara", enabled=True).enabled


@pytest.mark.usefixtures("_quickly")
def test_who_tries_again_after_a_lost_answer_is_shown_what_is_stored_though_no_news_came(
    tmp_path: Path, line: _Line, postgres_url: str, postgres_cluster: Cluster
) -> None:
    with _behind(line, postgres_url, postgres_cluster, tmp_path) as here:
        run = small_run(here.service)
        live, key = here.service.run(run), "1" * 32
        line.loses_next = True
        with pytest.raises(StoreFailed):
            note(here.service, run, key=key)
        assert live.state.seq == 1
        assert note(here.service, run, key=key) == 2
        assert _as_stored(here, run)
        assert here.told[-1] == (run, 2)
        here.people.add("Kofi", "keep", PASSWORD)
        line.loses_next = True
        with pytest.raises(StoreFailed):
            here.people.change("Kofi", password="another heron")
        with pytest.raises(Refusal, match="Look at the list"):
            here.people.change("Kofi", password="another heron")
        here.people.change("Kofi", password="another heron")


def test_an_order_is_answered_whatever_becomes_of_the_run_in_memory(
    deaf: tuple[One, One], monkeypatch: pytest.MonkeyPatch
) -> None:
    here, there = deaf
    run = small_run(here.service)
    here.service.run(run)
    note(there.service, run)

    def torn(*_: object) -> None:
        raise RuntimeError("of no kind that anybody thought of")

    with monkeypatch.context() as broken:
        broken.setattr(here.service, "_read_on", torn)
        assert here.service.order(run, AddNote("mine"), sender()).result(10).seq == 3
    assert run in here.service.behind
    here.service.catch_up(run)
    assert _as_stored(here, run)


def test_news_that_met_a_fault_of_any_kind_is_looked_at_again_and_told_of_once(
    deaf: tuple[One, One], monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    hears = _hears_only_here(deaf[0], monkeypatch)

    def torn() -> None:
        raise RuntimeError("of no kind that anybody thought of")

    with monkeypatch.context() as broken:
        broken.setattr(deaf[0].people, "read_again", torn)
        hears.heard("people")
        hears.look()
        assert hears.owes
    assert caplog.text.count("(people) can't be taken over") == 1
    hears.look()
    assert not hears.owes


def test_an_own_entry_after_another_log_s_is_not_taken_for_the_next_of_this_one(
    deaf: tuple[One, One], url: str, postgres_cluster: Cluster
) -> None:
    """A standby that lacked the last entries took the database's place, and another server wrote there first."""
    here, there = deaf
    run = small_run(here.service)
    for text in ("one", "two", "three"):
        note(here.service, run, text)
    there.service.run(run)
    cut = [
        f"DELETE FROM event WHERE run = {run} AND seq > 2",
        f"DELETE FROM receipt WHERE run = {run} AND last_seq > 2",
    ]
    _tamper(postgres_cluster, url, *cut)
    for text in ("another two", "another three"):
        note(there.service, run, text)
    assert here.service.run(run).state.seq == there.service.run(run).state.seq == 4
    assert note(here.service, run, "mine") == 5
    assert _as_stored(here, run)


def test_a_run_that_is_read_anew_and_found_damaged_holds_up_no_other_and_is_not_read_again_and_again(
    deaf: tuple[One, One],
    url: str,
    postgres_cluster: Cluster,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    here, there = deaf
    harmed, sound = small_run(here.service), small_run(here.service)
    for text in ("one", "two"):
        note(here.service, harmed, text)
    there.service.run(harmed)
    there.service.run(sound)
    note(here.service, sound)
    chain = f"UPDATE event SET chain = '{'0' * 64}' WHERE run = {harmed} AND seq = 3"
    _tamper(postgres_cluster, url, chain, f"UPDATE event SET body = '{{' WHERE run = {harmed} AND seq = 2")
    hears = _hears_only_here(there, monkeypatch)
    there.told.clear()
    hears.heard("all")
    assert _as_stored(there, sound)
    assert (ALL_RUNS, 0) in there.told
    assert not hears.owes
    assert f"run {harmed} is damaged" in caplog.text
    with pytest.raises(RunDamaged):
        there.service.run(harmed)


@pytest.mark.usefixtures("_quickly")
def test_who_was_signed_out_while_the_disk_was_full_is_not_let_in_by_what_is_read_again(
    tmp_path: Path, postgres_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_job: object) -> Any:
        raise StoreFailed("full")

    with server(tmp_path, postgres_url) as here:
        here.people.add("Kofi", "keep", PASSWORD)
        here.people.add("Mara", "mark", PASSWORD)
        token, _ = here.people.sign_in("Mara", PASSWORD, "station", "10.0.0.1", "")
        with monkeypatch.context() as broken:
            broken.setattr(here.store, "write", full)
            with pytest.raises(StoreFailed):
                here.people.change("Mara", enabled=False)
        here.people.read_again()
        assert here.people.who(token) is None


@pytest.mark.usefixtures("_quickly")
def test_somebody_who_was_just_added_is_the_same_when_read_again(tmp_path: Path, postgres_url: str) -> None:
    """Else whoever signs in meanwhile would be told that the account was just changed."""
    with server(tmp_path, postgres_url) as here:
        added = here.people.add("Kofi", "keep", PASSWORD)
        here.people.read_again()
        assert here.people.everybody() == (added,)
