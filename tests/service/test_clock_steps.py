"""The wall clock steps; elapsed does not, and the step stands in the log of every run that goes on, once."""

from datetime import timedelta
from pathlib import Path

import pytest

from app.core.commands import EndRun
from app.core.events import ClockStepped
from app.service.runs import Service
from app.web.keys import new_key
from tests.service.making import SetClock, sender, small_run, store

HOUR = timedelta(hours=1)


def steps(service: Service, run: int) -> list[int]:
    return [each.event.step_ms for each in service.run(run).log if isinstance(each.event, ClockStepped)]


@pytest.mark.parametrize("step", [HOUR, -HOUR])
def test_a_step_is_logged_once_in_each_run_that_goes_on(service: Service, clock: SetClock, step: timedelta) -> None:
    one, two, over = small_run(service), small_run(service), small_run(service)
    service.order(over, EndRun("rain"), sender()).result()
    clock.at_s = 100
    assert service.watch_clock(new_key) is None
    clock.step += step
    assert service.watch_clock(new_key) == step / timedelta(milliseconds=1)
    assert service.watch_clock(new_key) is None
    logged_ms = [step / timedelta(milliseconds=1)]
    assert (steps(service, one), steps(service, two), steps(service, over)) == (logged_ms, logged_ms, [])
    assert service.run(one).clock.elapsed_s() == pytest.approx(100, abs=0.05)


@pytest.mark.parametrize("step", [HOUR, -HOUR])
def test_elapsed_is_right_after_a_step_and_a_restart(tmp_path: Path, clock: SetClock, step: timedelta) -> None:
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        run = small_run(service)
        clock.at_s, clock.step = 100, step
        service.watch_clock(new_key)
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
        service.watch_clock(new_key)
        assert service.run(run).clock.elapsed_s() == pytest.approx(110, abs=0.05)
        assert len(steps(service, run)) == 1


def test_a_slewed_clock_is_no_step(service: Service, clock: SetClock) -> None:
    run = small_run(service)
    for _ in range(10):
        clock.at_s += 1
        clock.step += timedelta(milliseconds=90)
        assert service.watch_clock(new_key) is None
    assert steps(service, run) == []
    assert service.run(run).now_s() == 10


def test_a_run_started_on_a_stepped_clock_counts_from_its_own_zero(service: Service, clock: SetClock) -> None:
    clock.at_s, clock.step = 50, HOUR
    run = small_run(service)  # before anybody has looked at the clock
    service.watch_clock(new_key)
    clock.at_s = 65
    assert service.run(run).clock.elapsed_s() == pytest.approx(15, abs=0.05)
