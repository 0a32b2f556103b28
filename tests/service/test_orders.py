"""Orders through the service: committed before answered, one effect per key, one winner, and an honest past."""

import sqlite3
from concurrent.futures import Future
from contextlib import closing
from pathlib import Path
from threading import Barrier, Thread

import pytest

from app.core.commands import MarkStep, Refusal, UndoMark
from app.core.fold import fold
from app.service.runs import Service
from app.service.values import Outcome
from app.store.engine import FILE_NAME
from app.store.faults import NoSuchRevision, NoSuchRun
from app.web.keys import new_key
from tests.service.making import ANGLE, SMALL, SetClock, done, sender, settings, small_run, store


def rows(folder: Path, run: int) -> list[tuple[int, str]]:
    """What another program sees in the file: seq and kind."""
    with closing(sqlite3.connect(settings(folder).data / FILE_NAME)) as other:
        return other.execute("SELECT seq, kind FROM event WHERE run = ? ORDER BY seq", (run,)).fetchall()


def test_what_is_acknowledged_is_in_the_file(service: Service, tmp_path: Path) -> None:
    run = small_run(service)
    outcome = service.order(run, MarkStep("rig/1"), sender()).result()
    assert rows(tmp_path, run) == [(1, "RunStarted"), (2, "StepMarked")]
    assert (outcome.seq, outcome.repeated) == (2, False)


def test_the_state_is_taken_over_before_the_answer_and_screens_are_told_after_it(service: Service) -> None:
    run = small_run(service)
    seen: list[tuple[int, int, bool]] = []
    answered: list[Future[Outcome]] = []
    service.listen(lambda told, seq: seen.append((told, seq, answered[0].done())))
    # The writer is held so that the future is known here before it is done.
    gate = Barrier(2)
    held = service.store.write(lambda _conn: gate.wait(5))
    answered.append(service.order(run, MarkStep("rig/1"), sender()))
    gate.wait(5)
    held.result()
    assert answered[0].result().seq == 2
    assert "rig/1" in service.run(run).state.done
    service.store.write(lambda _conn: None).result()
    assert seen == [(run, 2, True)]


def test_the_same_key_gets_the_same_answer_and_marks_once(service: Service, tmp_path: Path, clock: SetClock) -> None:
    run, key = small_run(service), new_key()
    first = service.order(run, MarkStep("rig/1"), sender(key)).result()
    clock.at_s = 20
    second = service.order(run, MarkStep("rig/1"), sender(key)).result()
    assert (second.seq, second.events, second.repeated) == (first.seq, first.events, True)
    assert len(rows(tmp_path, run)) == 2


def test_the_same_key_gets_the_same_answer_after_a_restart(tmp_path: Path, clock: SetClock) -> None:
    key = new_key()
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        run = small_run(service)
        first = service.order(run, MarkStep("rig/1"), sender(key)).result()
    with store(tmp_path) as opened:
        second = Service(opened, clock.server()).order(run, MarkStep("rig/1"), sender(key)).result()
    assert (second.seq, second.events, second.repeated) == (first.seq, first.events, True)


def test_a_key_sent_with_something_else_is_refused(service: Service, tmp_path: Path) -> None:
    run, key = small_run(service), new_key()
    service.order(run, MarkStep("rig/1"), sender(key)).result()
    for other, at_s in ((MarkStep("rig/2"), None), (MarkStep("rig/1"), 0), (UndoMark("rig/1"), None)):
        with pytest.raises(Refusal) as refused:
            service.order(run, other, sender(key), at_s).result()
        assert refused.value.code == "key-reused"
    assert len(rows(tmp_path, run)) == 2


def test_two_minutes_ago_sent_twice_is_one_press(service: Service, clock: SetClock) -> None:
    """It is another second each time it is read, and the same press all the same."""
    run, key = small_run(service), new_key()
    clock.at_s = 300
    first = service.order(run, MarkStep("rig/1"), sender(key), "-2 min").result()
    clock.at_s = 303
    second = service.order(run, MarkStep("rig/1"), sender(key), "-2 min").result()
    assert (second.seq, second.repeated) == (first.seq, True)
    assert service.run(run).state.done["rig/1"].at_s == 180


def test_of_two_stations_that_mark_the_same_step_one_is_told_that_it_is_done(service: Service, tmp_path: Path) -> None:
    run, start = small_run(service), Barrier(2)
    done: list[Outcome] = []
    refused: list[Refusal] = []

    def press() -> None:
        start.wait(5)
        try:
            done.append(service.order(run, MarkStep("rig/1"), sender()).result(5))
        except Refusal as refusal:
            refused.append(refusal)

    threads = [Thread(target=press) for _ in range(2)]
    for each in threads:
        each.start()
    for each in threads:
        each.join(10)
    assert [outcome.seq for outcome in done] == [2]
    assert [refusal.code for refusal in refused] == ["already-done"]
    assert "by Ground" in str(refused[0])
    assert len(rows(tmp_path, run)) == 2


def test_many_presses_at_once_keep_the_log_without_a_gap(service: Service, tmp_path: Path) -> None:
    run = small_run(service)
    steps = ["rig/1", "rig/2", "paint/1", "wire/1", "rig/1"]
    sent = [service.order(run, MarkStep(step, ANGLE if step == "rig/2" else ()), sender()) for step in steps]
    codes = [error.code if isinstance(error := each.exception(), Refusal) else None for each in sent]
    assert codes == [None, None, None, None, "already-done"]
    assert [seq for seq, _ in rows(tmp_path, run)] == [1, 2, 3, 4, 5]
    assert list(service.run(run).state.done) == steps[:4]


def test_a_refused_order_leaves_nothing_and_its_key_can_be_used_again(service: Service, tmp_path: Path) -> None:
    run, key = small_run(service), new_key()
    with pytest.raises(Refusal):
        service.order(run, MarkStep("wire/1"), sender(key)).result()
    assert len(rows(tmp_path, run)) == 1
    assert service.order(run, MarkStep("rig/1"), sender(key)).result().seq == 2


def test_a_step_may_be_marked_earlier_than_now_and_never_later(service: Service, clock: SetClock) -> None:
    run = small_run(service)
    clock.at_s = 600
    service.order(run, MarkStep("rig/1"), sender(), 300).result()
    last = service.run(run).log[-1]
    assert (last.at_s, last.logged_s) == (300, 600)
    with pytest.raises(Refusal, match="has not come yet"):
        service.order(run, MarkStep("rig/2"), sender(), 601).result()


def test_a_past_moment_is_the_fold_of_what_happened_up_to_it(service: Service, clock: SetClock) -> None:
    run = small_run(service)
    for at_s, step, heard_s in ((310, "rig/1", None), (700, "rig/2", None), (720, "paint/1", 650)):
        clock.at_s = at_s
        done(service, run, step, heard_s)
    log = service.run(run).log
    for second in (0, 309, 310, 649, 650, 699, 720):
        there = service.situation(run, second)
        assert there.state == fold([each for each in log if each.at_s <= second])
        assert there.at_s == second
    assert set(service.situation(run, 660).state.done) == {"rig/1", "paint/1"}


def test_a_moment_before_zero_or_not_yet_come_is_refused(service: Service, clock: SetClock) -> None:
    run = small_run(service)
    clock.at_s = 60
    for second in (-1, 61):
        with pytest.raises(Refusal) as refused:
            service.situation(run, second)
        assert refused.value.code == "no-such-moment"


def test_a_run_keeps_its_revision_when_a_newer_one_is_loaded(service: Service, clock: SetClock) -> None:
    run = small_run(service)
    kept = service.run(run).stored.revision
    clock.at_s = 1
    newer = service.shelf.load(SMALL.replace(b"5 min", b"50 min"), "mast.yaml")
    assert newer.is_new
    assert service.shelf.revision("mast").hash == newer.hash != kept
    assert service.run(run).stored.revision == kept
    assert service.situation(run).plan.end_s == 27 * 60
    other = service.start_run("mast", "live", sender())
    assert service.situation(other).plan.end_s == 72 * 60


def test_the_same_text_twice_changes_nothing(service: Service) -> None:
    first = service.shelf.load(SMALL, "mast.yaml")
    again = service.shelf.load(SMALL, "other.yaml")
    assert (first.is_new, again.is_new, again.hash) == (True, False, first.hash)
    assert [stored.source for stored in service.shelf.revisions()] == ["mast.yaml"]


def test_what_is_not_there_is_said(service: Service) -> None:
    with pytest.raises(NoSuchRun):
        service.order(7, MarkStep("rig/1"), sender())
    with pytest.raises(NoSuchRevision):
        service.start_run("nothing", "live", sender())
