"""The clock that all servers of one database share: this machine's steady clock, set by the database's UTC.

As in RFC 5905, section 8: of a question asked at T1, answered by the database at T2 (= T3) and back at T4, the offset
is ((T2 - T1) + (T3 - T4)) / 2, known to within half of T4 - T1. Of several questions the quickest tells most. The wall
clock of this machine counts for nothing.
"""

from collections.abc import Callable
from datetime import UTC, datetime
from threading import Lock

from app.store.clock import steady_clock

SAMPLES = 8
"""Questions at a time, as many as the clock filter of RFC 5905 (section 10) keeps."""
DRIFT = 15e-6
"""Seconds in a second by which the bound of the error grows (RFC 5905, PHI)."""


class SharedClock:
    """Safe to use from several threads. It shows nothing before the first `set_by`."""

    def __init__(self, steady: Callable[[], float] = steady_clock) -> None:
        self._steady = steady
        self._lock = Lock()
        self._offset_s = 0.0
        self._error_s = float("inf")
        self._set_s = 0.0

    def set_by(self, ask: Callable[[], float]) -> None:
        """Ask for the database's UTC, seconds since 1970, several times, and go by the quickest answer.

        What agrees with what is known, as far as both can be trusted, and is known no better, changes nothing: so the
        clock does not jump by what the network does. What disagrees is taken: the database's clock was set.
        """
        error_s, offset_s, at_s = min(self._sample(ask) for _ in range(SAMPLES))
        with self._lock:
            known_s = self._error_s + DRIFT * (at_s - self._set_s)
            if error_s <= known_s or abs(offset_s - self._offset_s) > error_s + known_s:
                self._offset_s, self._error_s, self._set_s = offset_s, error_s, at_s

    def _sample(self, ask: Callable[[], float]) -> tuple[float, float, float]:
        """(bound of the error, offset, when on the steady clock), in seconds."""
        asked_s = self._steady()
        told_s = ask()
        back_s = self._steady()
        return (back_s - asked_s) / 2, told_s - (asked_s + back_s) / 2, back_s

    @property
    def error_s(self) -> float:
        """How far it may be off when it was last set."""
        return self._error_s

    def utc(self) -> datetime:
        """The database's UTC now."""
        with self._lock:
            return datetime.fromtimestamp(self._steady() + self._offset_s, UTC)
