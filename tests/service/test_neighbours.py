"""Several servers on one PostgreSQL database: one truth, whoever stores it, and whether its news comes or not."""

import threading
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from app.core.commands import AddNote, EndRun, MarkStep, Refusal
from app.core.commands_rehearsal import RuleClock
from app.core.events import NoteAdded
from app.service.held import ALL_RUNS
from app.service.neighbours import Neighbours
from app.service.run_files import import_run, run_file
from app.service.runs import Service
from app.store import journal
from app.store.faults import RunDamaged, StoreFailed
from app.store.verifying import verify
from app.web.keys import new_key
from tests.postgres import Cluster
from tests.service.making import SMALL, SetClock, done, sender, small_run, store
from tests.service.two_servers import One, two_servers, until


@pytest.fixture(scope="module")
def url(postgres_cluster: Cluster) -> Iterator[str]:
    """One database for all of these tests, for each has runs of its own and to make one takes long."""
    made = postgres_cluster.new_database()
    yield made
    postgres_cluster.drop_database(made)


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory, url: str) -> Iterator[tuple[One, One]]:
    with two_servers(tmp_path_factory.mktemp("both"), url) as made:
        yield made


@pytest.fixture(scope="module")
def deaf(tmp_path_factory: pytest.TempPathFactory, url: str) -> Iterator[tuple[One, One]]:
    """Two that hear nothing of each other: as when the news is late."""
    with two_servers(tmp_path_factory.mktemp("deaf"), url, hearing=False) as made:
        yield made


def note(service: Service, run: int, text: str = "all well", key: str = "") -> int:
    return service.order(run, AddNote(text), sender(key)).result().seq


def _as_stored(one: One, run: int) -> bool:
    """Whether its memory is what the database has."""
    return one.service.run(run).log == one.store.read(lambda conn: journal.read(conn, run))


def test_what_one_server_stores_is_the_other_s_state_and_is_told_to_its_screens(both: tuple[One, One]) -> None:
    here, there = both
    run = small_run(here.service)
    until(lambda: (run, 0) in there.told, "word of the new run")
    assert there.service.runs()[0].run == run
    there.service.run(run)
    done(here.service, run, "rig/1")
    seq = note(here.service, run)
    until(lambda: (run, seq) in there.told, "word of the note")
    assert there.service.run(run).state == here.service.run(run).state
    assert there.service.run(run).log == here.service.run(run).log
    assert here.told[-1] == (run, seq)


def test_an_order_is_decided_on_what_the_other_server_stored_though_its_news_never_came(deaf: tuple[One, One]) -> None:
    here, there = deaf
    run = small_run(here.service)
    there.service.run(run)
    done(here.service, run, "rig/1")
    with pytest.raises(Refusal, match="done"):
        there.service.order(run, MarkStep("rig/1"), sender()).result()
    seq = note(there.service, run)
    assert there.service.run(run).state.seq == seq == 3
    assert _as_stored(there, run), "what came in between is taken over with its own"
    assert note(here.service, run) == 4
    assert _as_stored(here, run)


def test_a_press_sent_to_both_servers_counts_once_and_gets_one_answer(deaf: tuple[One, One]) -> None:
    here, there = deaf
    run = small_run(here.service)
    keys = [new_key() for _ in range(20)]
    with ThreadPoolExecutor(4) as pool:
        tries = [
            pool.submit(note, one.service, run, f"note {place}", key)
            for place, key in enumerate(keys)
            for one in (here, there, here)
        ]
        answers = [each.result() for each in tries]
    assert [len(set(answers[place * 3 : place * 3 + 3])) for place in range(len(keys))] == [1] * len(keys)
    log = here.store.read(lambda conn: journal.read(conn, run))
    assert Counter(each.key for each in log[1:]) == Counter(keys)


def test_a_run_started_with_one_key_at_both_servers_is_one_run(deaf: tuple[One, One]) -> None:
    here, there = deaf
    revision = here.service.shelf.load(SMALL, "mast.yaml").hash
    keys = [new_key() for _ in range(5)]
    with ThreadPoolExecutor(4) as pool:
        tries = [
            pool.submit(one.service.start_run, revision, "rehearsal", sender(key))
            for key in keys
            for one in (here, there)
        ]
        runs = [each.result() for each in tries]
    assert runs[::2] == runs[1::2]
    assert sorted(set(runs)) == list(range(min(runs), min(runs) + 5))


def test_presses_at_both_servers_at_once_make_one_sound_log(both: tuple[One, One]) -> None:
    here, there = both
    run = small_run(here.service)

    def press(one: One, name: str) -> None:
        for number in range(40):
            note(one.service, run, f"{name} {number}")

    pressing = [threading.Thread(target=press, args=(one, name)) for one in both for name in ("a", "b")]
    for each in pressing:
        each.start()
    for each in pressing:
        each.join()
    until(lambda: here.service.run(run).state.seq == there.service.run(run).state.seq == 161, "the whole log")
    assert _as_stored(here, run)
    assert _as_stored(there, run)
    log = here.service.run(run).log
    assert [each.logged_s for each in log] == sorted(each.logged_s for each in log), "no entry is before an earlier one"
    assert here.store.read(lambda conn: verify(conn, run)).fault is None


def test_what_could_not_be_read_when_its_news_came_is_read_when_it_can(
    deaf: tuple[One, One], monkeypatch: pytest.MonkeyPatch
) -> None:
    here, there = deaf
    run = small_run(here.service)
    live, hears = there.service.run(run), Neighbours(there.service, there.people)

    def gone(_job: object) -> None:
        raise StoreFailed("the database is not there")

    with monkeypatch.context() as broken:
        broken.setattr(there.store, "read", gone)
        seq = note(here.service, run)
        hears.heard(f"run {run}")
        assert live.state.seq == seq - 1
        assert hears.owes
    hears.look()
    assert live.state.seq == seq
    assert not hears.owes


def test_news_that_nobody_understands_harms_nothing(deaf: tuple[One, One], caplog: pytest.LogCaptureFixture) -> None:
    here, there = deaf
    hears = Neighbours(there.service, there.people)
    for topic in ("run", "run x", "run -1", "run 99999999999999999999", "weather", ""):
        hears.heard(topic)
    assert caplog.text.count("is not understood") == 5
    assert note(there.service, small_run(here.service)) == 2


def test_a_log_that_lost_its_end_is_read_anew(deaf: tuple[One, One], caplog: pytest.LogCaptureFixture) -> None:
    """As when a copy of the database that lacked the last entries took its place."""
    here, there = deaf
    run = small_run(here.service)
    live = there.service.run(run)
    lost = live.log[-1]._replace(seq=2, event=NoteAdded("lost"), chain="0" * 64)
    live.committed([lost])
    seq = note(here.service, run)
    there.service.catch_up(run)
    assert there.service.run(run).state.seq == seq
    assert _as_stored(there, run)
    assert "is read anew" in caplog.text


def test_a_damaged_entry_of_another_server_is_told_once_and_not_read_again_and_again(
    deaf: tuple[One, One], caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    here, there = deaf
    run = small_run(here.service)
    there.service.run(run)
    hears = Neighbours(there.service, there.people)
    note(here.service, run)

    def torn(*_: object) -> None:
        raise ValueError("no JSON")

    monkeypatch.setattr("app.service.held.journal.read", torn)
    hears.heard(f"run {run}")
    assert f"run {run} is damaged" in caplog.text
    assert not hears.owes
    with pytest.raises(RunDamaged):
        there.service.run(run)


def test_an_end_and_a_ruled_clock_hold_at_the_other_server(both: tuple[One, One]) -> None:
    here, there = both
    run = small_run(here.service)
    live = there.service.run(run)
    here.service.order(run, RuleClock(60, 600), sender()).result()
    until(lambda: live.state.rehearsal.ruling.rate == 60, "the ruling")
    assert live.clock.elapsed_s() == pytest.approx(here.service.run(run).clock.elapsed_s(), abs=60 * 0.05)
    here.service.order(run, EndRun("over"), sender()).result()
    until(lambda: live.stands_s is not None, "the end")
    assert live.stands_s == here.service.run(run).stands_s
    with pytest.raises(Refusal, match="ended"):
        there.service.order(run, AddNote("late"), sender()).result()


def test_an_imported_run_comes_and_grows_at_the_other_server_too(
    both: tuple[One, One], tmp_path: Path, clock: SetClock
) -> None:
    here, there = both
    with store(tmp_path / "elsewhere") as opened:
        service = Service(opened, clock.server())
        made = small_run(service)
        first = run_file(service, made, "jsonl").data
        note(service, made)
        longer = run_file(service, made, "jsonl").data
    run = import_run(here.service, first, "run.jsonl", "Kofi").run
    until(lambda: (run, 0) in there.told, "word of the imported run")
    assert there.service.run(run).stands_s is not None
    assert import_run(here.service, longer, "run.jsonl", "Kofi").new == 1
    until(lambda: there.service.run(run).state.seq == 2, "its growth")
    assert import_run(there.service, longer, "run.jsonl", "Kofi").new == 0


def test_a_procedure_loaded_at_one_server_is_in_the_list_of_the_other(both: tuple[One, One]) -> None:
    here, there = both
    there.told.clear()
    loaded = here.service.shelf.load(SMALL.replace(b"Mast work", b"Mast work, anew"), "mast.yaml")
    until(lambda: (ALL_RUNS, 0) in there.told, "word of the procedure")
    assert there.service.shelf.revisions()[0].hash == loaded.hash
