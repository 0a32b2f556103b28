"""The shared clock against times made up for it: the formulae of RFC 5905, section 8, by hand."""

from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from app.store.shared_clock import SharedClock


class _World:
    """A steady clock, a database that is so far ahead of it, and a network that takes so long there and back."""

    def __init__(self, ahead_s: float) -> None:
        self.now_s, self.ahead_s = 100.0, ahead_s
        self.ways: list[tuple[float, float]] = []

    def ask(self) -> float:
        there_s, back_s = self.ways.pop(0)
        self.now_s += there_s
        told_s = self.now_s + self.ahead_s
        self.now_s += back_s
        return told_s


@pytest.fixture
def world() -> _World:
    return _World(ahead_s=1_000_000.0)


def _set(clock: SharedClock, world: _World, quickest: tuple[float, float]) -> None:
    world.ways = [(0.5, 0.25), quickest, *([(0.25, 0.5)] * 6)]
    clock.set_by(world.ask)
    assert not world.ways, "it asked eight times"


def _off_s(clock: SharedClock, world: _World) -> float:
    return clock.utc().timestamp() - (world.now_s + world.ahead_s)


def _clock(world: _World) -> SharedClock:
    steady: Callable[[], float] = lambda: world.now_s  # noqa: E731
    return SharedClock(steady)


def test_the_quickest_answer_sets_it_and_is_wrong_by_half_the_difference_of_the_ways(world: _World) -> None:
    """T1 = 100.75, T2 = T3 = T1 + 0.003 + 1e6, T4 = T1 + 0.004: the offset is 1e6 + (0.003 - 0.001) / 2."""
    clock = _clock(world)
    _set(clock, world, (0.003, 0.001))
    assert _off_s(clock, world) == pytest.approx(0.001, abs=1e-6)
    assert clock.error_s == pytest.approx(0.002, abs=1e-9)
    assert clock.utc().tzinfo is UTC


def test_an_answer_that_is_worth_less_and_agrees_moves_nothing(world: _World) -> None:
    clock = _clock(world)
    _set(clock, world, (0.001, 0.001))
    before_s = _off_s(clock, world)
    _set(clock, world, (0.030, 0.010))
    assert _off_s(clock, world) == pytest.approx(before_s, abs=1e-6)


def test_a_better_answer_is_taken(world: _World) -> None:
    clock = _clock(world)
    _set(clock, world, (0.030, 0.010))
    _set(clock, world, (0.001, 0.001))
    assert _off_s(clock, world) == pytest.approx(0, abs=1e-6)


def test_what_is_known_is_worth_less_with_time(world: _World) -> None:
    """15 parts in a million: after 1,000 s what was known to 1 ms is known to 16 ms, and 15 ms is better."""
    clock = _clock(world)
    _set(clock, world, (0.001, 0.001))
    world.now_s += 1000
    _set(clock, world, (0.030, 0.000))
    assert _off_s(clock, world) == pytest.approx(0.015, abs=1e-6)


@pytest.mark.parametrize("step_s", [-3600.0, -0.5, 0.5, 3600.0])
def test_a_database_whose_clock_was_set_is_followed_at_once(world: _World, step_s: float) -> None:
    clock = _clock(world)
    _set(clock, world, (0.001, 0.001))
    world.ahead_s += step_s
    _set(clock, world, (0.100, 0.100))
    assert _off_s(clock, world) == pytest.approx(0, abs=1e-6)


def test_it_shows_the_databases_utc_and_not_this_machines(world: _World) -> None:
    clock = _clock(world)
    _set(clock, world, (0.0, 0.0))
    assert clock.utc() == datetime.fromtimestamp(world.now_s + 1_000_000.0, UTC)
