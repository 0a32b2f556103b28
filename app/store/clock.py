"""Elapsed time that a stepped wall clock cannot bend. Pure objects: no thread, and both clocks are passed in.

Within one boot elapsed follows the monotonic clock, also from one server to the next: see `Anchor`. After the machine
was started again it is anchored from UTC, less the steps of the wall clock that are in the run's log; a step while the
machine was off cannot be seen and moves elapsed by as much.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

LEAST_STEP_S = 1.0
"""A smaller difference is the slewing of a time service, not a step."""


MOST_S = 1e10
"""No machine has run for so long."""

_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")
"""Another text after each start of the machine (random(4)). Only Linux has it."""


def boot_id() -> str:
    """Which start of this machine goes on; empty where that can't be told."""
    try:
        return _BOOT_ID.read_text(encoding="ascii").strip()
    except (OSError, ValueError):
        return ""


@dataclass(frozen=True, slots=True)
class Anchor:
    """What both clocks showed at one moment of a boot, as the wall clock had not stepped since the last look.

    The next server of the same boot goes on from it, and so finds a step that nobody saw.

    Raises:
        ValueError: no clock shows that; sums with it would end beyond what a date can say.
    """

    boot: str
    utc: datetime
    steady_s: float

    def __post_init__(self) -> None:
        if not (0 <= self.steady_s < MOST_S and 1970 <= self.utc.year < 9000):
            raise ValueError("no clock shows that")


def wall_clock() -> datetime:
    """This machine's UTC."""
    return datetime.now(UTC)


def steady_clock() -> float:
    """Seconds since some moment of this boot; on Linux also those in which the machine slept (clock_gettime(2))."""
    return time.clock_gettime(time.CLOCK_BOOTTIME) if hasattr(time, "CLOCK_BOOTTIME") else time.monotonic()


class ServerClock:
    """The server's two clocks and the difference between their progress. One for all runs, used from one thread."""

    def __init__(
        self,
        utc: Callable[[], datetime] = wall_clock,
        monotonic: Callable[[], float] = steady_clock,
        boot: Callable[[], str] = boot_id,
    ) -> None:
        self._utc = utc
        self._monotonic = monotonic
        self.anchor = Anchor(boot(), utc(), monotonic())

    def go_on_from(self, anchor: Anchor) -> bool:
        """Take the anchor of an earlier server, if it is of this boot and not yet to come, as after a whole machine was
        set back. To be called before the clock is used. Returns whether it was."""
        here = self.anchor
        is_ours = bool(here.boot) and here.boot == anchor.boot and anchor.steady_s <= here.steady_s
        if is_ours:
            self.anchor = anchor
        return is_ours

    def utc(self) -> datetime:
        """What the wall clock shows."""
        return self._utc()

    def monotonic(self) -> float:
        """Seconds of the clock that never steps."""
        return self._monotonic()

    def steady_utc(self) -> datetime:
        """UTC as it would be had the wall clock not stepped since the last look. Use it for the zero of a new run:
        a step that is not yet known is then not counted twice when it is."""
        return self.anchor.utc + timedelta(seconds=self._monotonic() - self.anchor.steady_s)

    def has_stepped(self) -> bool:
        """Whether `step_ms` would find a step now."""
        return abs(self._utc() - self.steady_utc()) > timedelta(seconds=LEAST_STEP_S)

    def step_ms(self) -> int | None:
        """Look whether the wall clock stepped by more than a second since the last step, and take it.

        Returns:
            The step in milliseconds, forward positive, once; None if there was none.
        """
        step = self._utc() - self.steady_utc()
        if abs(step) <= timedelta(seconds=LEAST_STEP_S):
            return None
        self.anchor = replace(self.anchor, utc=self.anchor.utc + step)
        return round(step / timedelta(milliseconds=1))


class RunClock:
    """Elapsed of one run."""

    def __init__(self, clock: ServerClock, zero_s: float, rate: float = 1.0, base_s: float = 0.0) -> None:
        """Elapsed was `base_s` when the server's steady clock showed `zero_s`, or would have; it gains `rate` seconds
        each second. Of a run whose clock nobody ruled, `zero_s` is its zero."""
        self._clock = clock
        self.zero_s = zero_s
        self.rate = rate
        self.base_s = base_s

    def elapsed_s(self, monotonic_s: float | None = None) -> float:
        """Elapsed now, or when the server's steady clock showed `monotonic_s`; below 0 before zero."""
        since_s = (self._clock.monotonic() if monotonic_s is None else monotonic_s) - self.zero_s
        return self.base_s + since_s * self.rate


def zero_by_utc(clock: ServerClock, zero_utc: datetime, stepped_ms: int = 0) -> float:
    """`RunClock.zero_s` of a run that began in another boot, from UTC.

    Args:
        zero_utc: the run's zero.
        stepped_ms: the sum of the `ClockStepped` events in its log.
    """
    elapsed = clock.steady_utc() - zero_utc - timedelta(milliseconds=stepped_ms)
    return clock.monotonic() - elapsed.total_seconds()
