"""Elapsed time that a stepped wall clock cannot bend. Pure objects: no thread, and both clocks are passed in.

Within one boot elapsed follows the monotonic clock. After a restart it is anchored again from UTC, less the steps of
the wall clock that are in the run's log. A step while no server runs cannot be seen and moves elapsed by as much.
"""

import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

LEAST_STEP_S = 1.0
"""A smaller difference is the slewing of a time service, not a step."""


def wall_clock() -> datetime:
    """This machine's UTC."""
    return datetime.now(UTC)


def steady_clock() -> float:
    """Seconds since some moment of this boot; on Linux also those in which the machine slept (clock_gettime(2))."""
    return time.clock_gettime(time.CLOCK_BOOTTIME) if hasattr(time, "CLOCK_BOOTTIME") else time.monotonic()


class ServerClock:
    """The server's two clocks and the difference between their progress. One for all runs, used from one thread."""

    def __init__(self, utc: Callable[[], datetime] = wall_clock, monotonic: Callable[[], float] = steady_clock) -> None:
        self._utc = utc
        self._monotonic = monotonic
        self._anchor = utc()
        self._anchor_s = monotonic()

    def utc(self) -> datetime:
        """What the wall clock shows."""
        return self._utc()

    def monotonic(self) -> float:
        """Seconds of the clock that never steps."""
        return self._monotonic()

    def steady_utc(self) -> datetime:
        """UTC as it would be had the wall clock not stepped since the last look. Use it for the zero of a new run:
        a step that is not yet known is then not counted twice when it is."""
        return self._anchor + timedelta(seconds=self._monotonic() - self._anchor_s)

    def has_stepped(self) -> bool:
        """Whether `step_ms` would find a step now."""
        return abs(self._utc() - self.steady_utc()) > timedelta(seconds=LEAST_STEP_S)

    def step_ms(self) -> int | None:
        """Look whether the wall clock stepped by more than a second since the last step.

        Returns:
            The step in milliseconds, forward positive, once; None if there was none. The caller logs a
            `ClockStepped` in every open run: the sum of those is what anchors elapsed after a restart.
        """
        step = self._utc() - self.steady_utc()
        if abs(step) <= timedelta(seconds=LEAST_STEP_S):
            return None
        self._anchor += step
        return round(step / timedelta(milliseconds=1))


class RunClock:
    """Elapsed of one run."""

    def __init__(self, clock: ServerClock, zero_utc: datetime, stepped_ms: int = 0) -> None:
        """Anchor elapsed.

        Args:
            zero_utc: the run's zero.
            stepped_ms: the sum of the `ClockStepped` events in its log.
        """
        self._clock = clock
        stepped = timedelta(milliseconds=stepped_ms)
        self._elapsed0_s = (clock.steady_utc() - zero_utc - stepped).total_seconds()
        self._anchor_s = clock.monotonic()

    def elapsed_s(self) -> float:
        """Seconds since zero; below 0 before it."""
        return self._elapsed0_s + self._clock.monotonic() - self._anchor_s
