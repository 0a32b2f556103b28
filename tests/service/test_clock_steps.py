"""The wall clock steps; elapsed does not, and the step stands in the log of every run that goes on, once."""

import time
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path
from threading import Event

import pytest
from sqlalchemy import Connection

from app.core.commands import AddNote, EndRun
from app.core.events import ClockStepped
from app.service import clock_steps
from app.service.runs import Service
from app.store.anchor import ANCHOR_NAME, Kept, keep, read_kept
from tests.service.making import SMALL, SetClock, sender, small_run, store

HOUR = timedelta(hours=1)


def steps(service: Service, run: int) -> list[int]:
    return [each.event.step_ms for each in service.run(run).log if isinstance(each.event, ClockStepped)]


@pytest.mark.parametrize("step", [HOUR, -HOUR])
def test_a_step_is_logged_once_in_each_run_that_goes_on(service: Service, clock: SetClock, step: timedelta) -> None:
    one, two, over = small_run(service), small_run(service), small_run(service)
    service.order(over, EndRun("rain"), sender()).result()
    clock.at_s = 100
    assert service.watch_clock() is None
    clock.step += step
    assert service.watch_clock() == step / timedelta(milliseconds=1)
    assert service.watch_clock() is None
    logged_ms = [step / timedelta(milliseconds=1)]
    assert (steps(service, one), steps(service, two), steps(service, over)) == (logged_ms, logged_ms, [])
    assert service.run(one).clock.elapsed_s() == pytest.approx(100, abs=0.05)


@pytest.mark.parametrize("step", [HOUR, -HOUR])
def test_elapsed_is_right_after_a_step_and_a_restart(tmp_path: Path, clock: SetClock, step: timedelta) -> None:
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        run = small_run(service)
        clock.at_s, clock.step = 100, step
        service.watch_clock()
        assert service.run(run).now_s() == 100
    clock.at_s = 160
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        assert service.run(run).clock.elapsed_s() == pytest.approx(160, abs=0.05)


@pytest.mark.parametrize("step", [HOUR, -HOUR])
def test_a_step_right_after_a_restart_bends_no_run_that_nobody_has_looked_at(
    tmp_path: Path, clock: SetClock, step: timedelta
) -> None:
    with store(tmp_path) as opened:
        run = small_run(Service(opened, clock.server()))
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        clock.at_s, clock.step = 110, step
        service.watch_clock()
        assert service.run(run).clock.elapsed_s() == pytest.approx(110, abs=0.05)
        assert len(steps(service, run)) == 1


@pytest.mark.parametrize("step", [HOUR, -HOUR])
def test_a_step_while_no_server_runs_is_logged_by_the_next_one(
    tmp_path: Path, clock: SetClock, step: timedelta
) -> None:
    with store(tmp_path) as opened:
        run = small_run(Service(opened, clock.server()))
    clock.at_s, clock.step = 110, step
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        assert service.run(run).clock.elapsed_s() == pytest.approx(110, abs=0.05)
        assert service.watch_clock() == step / timedelta(milliseconds=1)
        assert len(steps(service, run)) == 1
    clock.at_s = 150
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        assert service.watch_clock() is None
        assert service.run(run).clock.elapsed_s() == pytest.approx(150, abs=0.05)


@pytest.mark.parametrize("further", [timedelta(0), timedelta(minutes=30), -HOUR])
def test_a_server_that_dies_before_it_keeps_its_clock_neither_loses_nor_doubles_a_step(
    tmp_path: Path, clock: SetClock, further: timedelta
) -> None:
    """It logged one step, and died; the clock was set once more before the next one came."""
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        runs = [small_run(service), small_run(service)]
        service.watch_clock()
        kept = read_kept(opened.data_dir)
        clock.at_s, clock.step = 100, HOUR
        service.watch_clock()
        assert kept is not None
        keep(opened.data_dir, kept)  # As if the new one had not been written.
    clock.at_s, clock.step = 130, HOUR + further
    for _ in range(3):
        with store(tmp_path) as opened:
            service = Service(opened, clock.server())
            assert [service.run(run).clock.elapsed_s() for run in runs] == pytest.approx([130, 130], abs=0.05)
            service.watch_clock()
            for run in runs:
                assert service.run(run).clock.elapsed_s() == pytest.approx(130, abs=0.05)
                assert sum(steps(service, run)) == (HOUR + further) / timedelta(milliseconds=1)
                assert len(steps(service, run)) == (2 if further else 1)


def test_steps_while_the_clock_can_be_kept_nowhere_bend_nothing(
    tmp_path: Path, clock: SetClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        run = small_run(service)
        service.watch_clock()
        monkeypatch.setattr(clock_steps, "keep", full_disk)
        for at_s, minutes in ((100, 10), (200, 40)):
            clock.at_s, clock.step = at_s, timedelta(minutes=minutes)
            service.watch_clock()
    for at_s in (210, 220, 230):
        clock.at_s = at_s
        with store(tmp_path) as opened:
            service = Service(opened, clock.server())
            service.watch_clock()
            assert service.run(run).clock.elapsed_s() == pytest.approx(at_s, abs=0.05)
            assert steps(service, run) == [600_000, 1_800_000]


def test_a_run_that_waits_for_the_disk_while_the_clock_steps_begins_at_its_own_zero(
    service: Service, clock: SetClock
) -> None:
    busy, disk, mast = Event(), Event(), service.shelf.load(SMALL, "mast.yaml").hash

    def hang(_: Connection) -> None:
        busy.set()
        disk.wait(20)

    service.store.write(hang)
    assert busy.wait(20)
    with ThreadPoolExecutor(1) as pool:
        starting = pool.submit(service.start_run, mast, "rehearsal", sender())
        while service.store._writer._jobs.empty() and not starting.done():
            time.sleep(0.01)
        clock.step = HOUR
        watching = service.clock.step_ms()
        disk.set()
        run = starting.result(20)
    assert watching == 3_600_000
    assert service.run(run).clock.elapsed_s() == pytest.approx(0, abs=0.05)
    service.watch_clock()
    assert steps(service, run) == [3_600_000]


def full_disk(*_: object) -> None:
    raise OSError(28, "No space left on device")


def test_after_another_boot_the_steady_clock_of_the_last_says_nothing(tmp_path: Path, clock: SetClock) -> None:
    with store(tmp_path) as opened:
        run = small_run(Service(opened, clock.server()))
    other = SetClock(at_s=40, step=timedelta(seconds=80), boot="the second")
    with store(tmp_path) as opened:
        service = Service(opened, other.server())
        assert service.watch_clock() is None
        assert service.run(run).clock.elapsed_s() == pytest.approx(120, abs=0.05)


def test_a_clock_that_another_boot_finds_behind_the_log_goes_on_from_the_log(tmp_path: Path, clock: SetClock) -> None:
    """A machine without a battery for its clock, and without a network, starts in some year long past."""
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        run, over = small_run(service), small_run(service)
        service.order(over, EndRun("rain"), sender()).result()
        clock.at_s = 400
        service.order(run, AddNote("here", None, None), sender()).result()
    other = SetClock(at_s=3, step=timedelta(days=-9_000), boot="the second")
    with store(tmp_path) as opened:
        service = Service(opened, other.server())
        assert service.run(run).clock.elapsed_s() == pytest.approx(400, abs=0.05)
        service.watch_clock()
        service.watch_clock()
        assert (len(steps(service, run)), steps(service, over)) == (1, [])
        other.at_s = 53
        service.order(run, AddNote("and on", None, None), sender()).result()
        assert service.run(run).log[-1].at_s == 450
    other.at_s = 70
    with store(tmp_path) as opened:
        again = Service(opened, other.server())
        assert again.run(run).clock.elapsed_s() == pytest.approx(467, abs=0.05)
        again.watch_clock()
        assert len(steps(again, run)) == 1


def kept_file(utc: str = "2031-05-04T07:00:00+00:00", steady_s: str = "0", zeros: str = "{}") -> bytes:
    return f'{{"boot": "the first", "utc": "{utc}", "steady_s": {steady_s}, "zeros": {zeros}}}'.encode()


NO_CLOCK = [
    *(b"", b"{", b"[]", b"[" * 9_000, b'{"boot": 1}', b"\xff", kept_file(utc="x"), kept_file(zeros="[]")),
    *(kept_file(utc="9999-12-31T23:59:59+00:00"), kept_file(steady_s="-1e300"), kept_file(steady_s="NaN")),
    *(kept_file(zeros='{"1": ["", NaN]}'), kept_file(zeros='{"1": ["", 1e300]}'), kept_file(zeros='{"x": ["", 0]}')),
]


@pytest.mark.parametrize("left", NO_CLOCK)
def test_an_anchor_that_cannot_be_read_is_none_and_is_replaced(tmp_path: Path, clock: SetClock, left: bytes) -> None:
    with store(tmp_path) as opened:
        (opened.data_dir / ANCHOR_NAME).write_bytes(left)
        assert read_kept(opened.data_dir) is None
        made = Service(opened, clock.server()).clock.anchor
        assert read_kept(opened.data_dir) == Kept(made)
        assert (opened.data_dir / ANCHOR_NAME).stat().st_mode & 0o777 == 0o600


def test_an_anchor_that_cannot_be_written_is_tried_again(
    tmp_path: Path, clock: SetClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    with store(tmp_path) as opened:
        with monkeypatch.context() as patched:
            patched.setattr(clock_steps, "keep", full_disk)
            service = Service(opened, clock.server())
            assert read_kept(opened.data_dir) is None
        service.watch_clock()
        assert read_kept(opened.data_dir) == Kept(service.clock.anchor)


def test_a_slewed_clock_is_no_step(service: Service, clock: SetClock) -> None:
    run = small_run(service)
    for _ in range(10):
        clock.at_s += 1
        clock.step += timedelta(milliseconds=90)
        assert service.watch_clock() is None
    assert steps(service, run) == []
    assert service.run(run).now_s() == 10


def test_a_run_started_on_a_stepped_clock_counts_from_its_own_zero(service: Service, clock: SetClock) -> None:
    clock.at_s, clock.step = 50, HOUR
    run = small_run(service)  # before anybody has looked at the clock
    service.watch_clock()
    clock.at_s = 65
    assert service.run(run).clock.elapsed_s() == pytest.approx(15, abs=0.05)
