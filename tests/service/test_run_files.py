"""Runs that go from one Leadline to another: the same run is the same, a record stays one, and its chain is kept."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from app.core.commands import AddNote, EndRun, MarkStep, Refusal
from app.core.words import sentence
from app.service.run_files import FILE_KINDS, import_run, imported_words, run_file
from app.service.runs import Service
from app.store.sound import soundness
from tests.service.making import SetClock, sender, small_run, store
from tests.service.recorded import recorded

Two = tuple[Service, Service]


@pytest.fixture
def two(tmp_path: Path, clock: SetClock) -> Iterator[Two]:
    """Where runs are made, and where they are brought. The first has a run before, so that the numbers differ."""
    with store(tmp_path / "made") as made, store(tmp_path / "kept") as kept:
        here = Service(made, clock.server())
        small_run(here)
        yield here, Service(kept, clock.server())


def sent(here: Service, run: int) -> bytes:
    return run_file(here, run, "jsonl").data


def test_a_run_comes_over_whole_and_verifies_there(two: Two, clock: SetClock) -> None:
    here, there = two
    run = recorded(here, clock)
    found = import_run(there, sent(here, run), "larkspur.jsonl", "Ana")
    assert (found.run, found.made_as, found.events, found.is_new) == (1, 2, 13, True)
    assert there.run(1).log == here.run(run).log
    told = [
        [sentence(each.event, live.prepared.procedure) for each in live.log] for live in (there.run(1), here.run(run))
    ]
    assert told[0] == told[1]
    assert there.store.read(soundness).faults() == ()
    assert there.store.read(soundness).runs[1].head_words == found.head == run_file(here, run, "csv").head
    origin = there.run(1).stored.origin
    assert origin is not None
    assert (origin.run, origin.by, origin.source) == (2, "Ana", "larkspur.jsonl")


def test_it_goes_on_from_there_as_the_same_bytes(two: Two, clock: SetClock) -> None:
    here, there = two
    run = recorded(here, clock)
    import_run(there, sent(here, run), "x", "Ana")
    assert sent(there, 1) == sent(here, run)


def test_the_same_run_twice_is_the_same_run(two: Two, clock: SetClock) -> None:
    here, there = two
    data = sent(here, recorded(here, clock))
    import_run(there, data, "x", "Ana")
    again = import_run(there, data, "other name", "Ben")
    assert (again.run, again.new, again.is_new) == (1, 0, False)
    assert imported_words(again).startswith("It is here already, as run 1; nothing was changed. 13 events, chain whole")
    assert len(there.runs()) == 1


def test_a_run_brought_home_is_the_one_that_was_made_there(two: Two, clock: SetClock) -> None:
    here, _ = two
    run = recorded(here, clock)
    assert import_run(here, sent(here, run), "x", "Ana").run == run
    assert here.run(run).stored.origin is None


def test_two_runs_of_one_revision_stay_two(two: Two, clock: SetClock) -> None:
    here, there = two
    files = [sent(here, recorded(here, clock)) for _ in range(2)]
    assert [import_run(there, data, "x", "Ana").run for data in files] == [1, 2]
    assert len(there.shelf.revisions()) == 1


def test_a_longer_log_of_an_imported_run_is_added_and_told(two: Two, clock: SetClock) -> None:
    here, there = two
    run = recorded(here, clock, ends=False)
    import_run(there, sent(here, run), "x", "Ana")
    assert there.run(1).now_s() == 1700
    told: list[tuple[int, int]] = []
    there.listen(lambda run, seq: told.append((run, seq)))
    clock.at_s += 60
    here.order(run, EndRun("Back"), sender()).result()
    found = import_run(there, sent(here, run), "x", "Ana")
    assert (found.run, found.new, found.events, found.is_new) == (1, 1, 13, False)
    assert told == [(1, 13)]
    assert there.run(1).log == here.run(run).log
    assert there.situation(1).state.ended_s == 1760
    assert there.store.read(soundness).faults() == ()


def test_a_shorter_log_of_a_run_that_is_here_changes_nothing(two: Two, clock: SetClock) -> None:
    here, there = two
    run = recorded(here, clock, ends=False)
    short = sent(here, run)
    here.order(run, EndRun("Back"), sender()).result()
    import_run(there, sent(here, run), "x", "Ana")
    found = import_run(there, short, "x", "Ana")
    assert (found.new, found.events) == (0, 13)


def branch(two: Two, clock: SetClock) -> tuple[int, bytes]:
    """A run, and the file of what became of it in a copy of its data."""
    here = two[0]
    run = recorded(here, clock, ends=False)
    copied = here.store.backup(here.store.data_dir.parent.parent / "copy.sqlite3")
    folder = copied.parent / "copied" / "data"
    folder.mkdir(parents=True)
    copied.rename(folder / "leadline.sqlite3")
    with store(folder.parent) as opened:
        copy = Service(opened, clock.server())
        copy.order(run, AddNote("in the copy"), sender()).result()
        return run, sent(copy, run)


def test_a_run_that_went_on_in_a_copy_is_not_taken_for_this_one(two: Two, clock: SetClock) -> None:
    here, there = two
    run, other = branch(two, clock)
    with pytest.raises(
        Refusal, match="It was made here, and its log ends here at event 12; the file goes on to event 13"
    ):
        import_run(here, other, "x", "Ana")
    here.order(run, AddNote("here"), sender()).result()
    for service in (here, there):
        if service is there:
            import_run(there, sent(here, run), "x", "Ana")
        with pytest.raises(Refusal, match="from event 13 on its log here is another one"):
            import_run(service, other, "x", "Ana")
        assert service.store.read(soundness).faults() == ()


def test_a_record_takes_no_orders_and_its_clock_stands_at_its_last_event(two: Two, clock: SetClock) -> None:
    here, there = two
    run = recorded(here, clock, ends=False)
    import_run(there, sent(here, run), "x", "Ana")
    clock.at_s += 5000
    assert there.run(1).now_s() == there.situation(1).at_s == 1700
    for order in (MarkStep("sweep/1"), AddNote("late"), EndRun("over")):
        with pytest.raises(Refusal, match="nothing is entered in it here"):
            there.order(1, order, sender())
    assert len(there.run(1).log) == 12


def test_a_step_of_the_clock_is_not_logged_in_a_record(two: Two, clock: SetClock) -> None:
    here, there = two
    import_run(there, sent(here, recorded(here, clock, ends=False)), "x", "Ana")
    there.run(1)
    clock.step += clock.utc() - clock.utc().replace(year=clock.utc().year - 1)
    assert there.watch_clock() is not None
    assert len(there.run(1).log) == 12


def test_a_record_is_the_same_for_the_next_server(tmp_path: Path, clock: SetClock) -> None:
    with store(tmp_path / "a") as made, store(tmp_path / "b") as kept:
        here = Service(made, clock.server())
        data = sent(here, recorded(here, clock, ends=False))
        import_run(Service(kept, clock.server()), data, "x", "Ana")
    with store(tmp_path / "b") as again:
        later = Service(again, clock.server())
        assert later.run(1).now_s() == 1700
        assert later.runs()[0].origin == later.run(1).stored.origin


@pytest.mark.parametrize("kind", FILE_KINDS)
def test_every_file_tells_the_head_of_its_log(two: Two, clock: SetClock, kind: str) -> None:
    here, _ = two
    run = recorded(here, clock)
    last = here.run(run).log[-1]
    made = run_file(here, run, kind)  # type: ignore[arg-type] # one of the kinds
    assert made.head == f"{last.seq}:{last.chain}"
    assert made.name.endswith(f".{kind}")
    if kind != "xlsx":
        assert made.head.encode() in made.data
