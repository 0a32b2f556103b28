"""Elapsed against a wall clock that jumps. HARM.md: error below 50 ms, and the step is an event."""

from datetime import UTC, datetime, timedelta

import pytest

from app.store.clock import RunClock, ServerClock, steady_clock, wall_clock, zero_by_utc

ZERO = datetime(2031, 3, 30, 0, 30, tzinfo=UTC)


class FakeClocks:
    """True time, a wall clock that may be off, and a monotonic clock that begins anew at each boot."""

    def __init__(self) -> None:
        self.true_s = 0.0
        self.wall_off_s = 0.0
        self._boot_s = -12345.678

    def utc(self) -> datetime:
        return ZERO + timedelta(seconds=self.true_s + self.wall_off_s)

    def monotonic(self) -> float:
        return self.true_s - self._boot_s

    def boot(self) -> ServerClock:
        self._boot_s = self.true_s - 3.21
        return ServerClock(self.utc, self.monotonic)


def _by_utc(clock: ServerClock, zero: datetime, stepped_ms: int = 0) -> RunClock:
    return RunClock(clock, zero_by_utc(clock, zero, stepped_ms))


def _error_s(clocks: FakeClocks, run: RunClock) -> float:
    return abs(run.elapsed_s() - clocks.true_s)


@pytest.mark.parametrize("step_s", [3600, -3600, 2, -2, 86_400 * 400])
def test_a_step_bends_elapsed_neither_in_the_run_nor_after_a_restart(step_s: float) -> None:
    clocks = FakeClocks()
    server = clocks.boot()
    run = _by_utc(server, ZERO)
    clocks.true_s = 1000.4
    clocks.wall_off_s = step_s
    assert server.step_ms() == step_s * 1000
    clocks.true_s = 2000.7
    assert _error_s(clocks, run) < 0.05
    clocks.true_s = 2600.1
    again = _by_utc(clocks.boot(), ZERO, stepped_ms=round(step_s * 1000))
    clocks.true_s = 5000
    assert _error_s(clocks, again) < 0.05


def test_a_step_is_told_once_and_a_second_one_for_itself() -> None:
    clocks = FakeClocks()
    server = clocks.boot()
    assert server.step_ms() is None
    told = []
    for off in (0, 3600, 3600, 1800, 1800, 0):
        clocks.true_s += 10
        clocks.wall_off_s = off
        told.append(server.step_ms())
    assert told == [None, 3_600_000, None, -1_800_000, None, -1_800_000]


def test_a_difference_of_up_to_a_second_is_no_step_until_it_adds_up() -> None:
    clocks = FakeClocks()
    server = clocks.boot()
    told = []
    for off in (0.4, 0.9, 1.0, 1.1, 1.2):
        clocks.true_s += 600
        clocks.wall_off_s = off
        told.append(server.step_ms())
    assert told == [None, None, None, 1100, None]


def test_a_run_opened_between_a_step_and_the_look_is_right_before_and_after_it() -> None:
    clocks = FakeClocks()
    server = clocks.boot()
    clocks.true_s, clocks.wall_off_s = 100, 3600
    old = _by_utc(server, ZERO)
    zero = server.steady_utc()
    young = _by_utc(server, zero)
    step = server.step_ms()
    assert step == 3_600_000
    clocks.true_s = 160
    assert _error_s(clocks, old) < 0.05
    assert young.elapsed_s() == pytest.approx(60)
    assert _by_utc(server, zero, step).elapsed_s() == pytest.approx(60)
    assert _by_utc(clocks.boot(), zero, step).elapsed_s() == pytest.approx(60)


def test_several_steps_sum_up_over_restarts() -> None:
    clocks = FakeClocks()
    sum_ms = 0
    for off in (3600, -3600, 17.5):
        server = clocks.boot()
        clocks.true_s += 500
        clocks.wall_off_s = off
        sum_ms += server.step_ms() or 0
    assert _error_s(clocks, _by_utc(clocks.boot(), ZERO, sum_ms)) < 0.05


def test_before_zero_elapsed_is_below_zero() -> None:
    assert _by_utc(FakeClocks().boot(), ZERO + timedelta(minutes=5)).elapsed_s() == pytest.approx(-300)


def test_the_machines_own_clocks_run_and_agree() -> None:
    server = ServerClock()
    assert wall_clock().utcoffset() == timedelta(0)
    assert steady_clock() <= server.monotonic()
    assert server.step_ms() is None
    assert abs(server.utc() - server.steady_utc()) < timedelta(seconds=1)
