"""Elapsed time that a stepped wall clock cannot bend. Pure objects: no thread, and both clocks are passed in.

Within one boot elapsed follows the monotonic clock, also from one server to the next: see `Anchor`. After the machine
was started again it is anchored from UTC, less the steps of the wall clock that are in the run's log; a step while the
machine was off cannot be seen and moves elapsed by as much.
"""

import time
import uuid
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

LEAST_STEP_S = 1.0
"""A smaller difference is the slewing of a time service, not a step."""


_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")
"""Another text after each start of the machine (random(4)). Only Linux has it."""

_KEYS = uuid.UUID("3b0c0a52-6f5e-5d0b-9a53-0f4f6f3c8a11")
"""Drawn once; the name space of `Anchor.key` (RFC 9562, 5.5)."""


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
    """

    boot: str
    utc: datetime
    steady_s: float

    @property
    def key(self) -> str:
        """The UUID under which the next step is logged: found twice, it is one event."""
        return str(uuid.uuid5(_KEYS, f"{self.boot} {self.utc.isoformat()} {self.steady_s:.9f}"))


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

    def go_on_from(self, anchor: Anchor) -> None:
        """Take the anchor of an earlier server. One of another boot says nothing; nor does one that is yet to come,
        as after a whole machine was set back. To be called before the clock is used."""
        here = self.anchor
        if here.boot and here.boot == anchor.boot and anchor.steady_s <= here.steady_s:
            self.anchor = anchor

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
        """Look whether the wall clock stepped by more than a second since the last step.

        Returns:
            The step in milliseconds, forward positive, once; None if there was none. The caller logs a
            `ClockStepped` in every open run: the sum of those is what anchors elapsed after a restart.
        """
        step = self._utc() - self.steady_utc()
        if abs(step) <= timedelta(seconds=LEAST_STEP_S):
            return None
        self.anchor = replace(self.anchor, utc=self.anchor.utc + step)
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

    def elapsed_s(self, monotonic_s: float | None = None) -> float:
        """Seconds since zero, now or when the server's steady clock showed `monotonic_s`; below 0 before zero."""
        now_s = self._clock.monotonic() if monotonic_s is None else monotonic_s
        return self._elapsed0_s + now_s - self._anchor_s
