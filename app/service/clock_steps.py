"""Elapsed of every run over servers and steps of the wall clock, and what of the steps has still to be logged.

It owns the file in the data folder that carries them from one server to the next of the same boot, and writes no log.
Where several servers share a database there is no such file: each counts elapsed from the database's UTC, less the
steps that are in the log, so that all have the same.
"""

from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from threading import Lock

from app.core.events import Logged
from app.core.rehearsal import Ruling
from app.core.state import State
from app.core.times import instant
from app.store.anchor import Kept, keep, read_kept
from app.store.clock import LEAST_STEP_S, RunClock, ServerClock, zero_by_utc
from app.store.library import StoredRun


class ClockSteps:
    """Of one clock. Safe to use from several threads."""

    def __init__(self, clock: ServerClock, data_dir: Path | None) -> None:
        """Go on from what the last server left, if this is the same boot. `data_dir`: None where the database is
        shared."""
        self._clock = clock
        self._data_dir = data_dir
        self._lock = Lock()
        self._zeros: dict[int, tuple[str, float]] = {}
        self._kept = None if data_dir is None else read_kept(data_dir)
        if self._kept is not None and clock.go_on_from(self._kept.anchor):
            self._zeros |= self._kept.zeros
        self.keep()

    def begun(self, run: int, zero_utc: datetime, zero_s: float) -> None:
        """A run was stored whose zero is when the steady clock showed `zero_s`."""
        with self._lock:
            self._zeros[run] = (instant(zero_utc), zero_s)

    def ruled(self, run: int, ruling: Ruling) -> None:
        """A run's clock is ruled now, just when its event is written."""
        with self._lock:
            self._zeros[run] = (_since(ruling), self._clock.monotonic())

    def clock_of(self, stored: StoredRun, log: Sequence[Logged], state: State) -> RunClock:
        """Elapsed of a run, as it was counted before in this boot. Else it is counted from UTC, but goes on from the
        log at least: if the wall clock is behind that, it was set back while this machine was off."""
        ruling = state.rehearsal.ruling
        since, began = _since(ruling) or instant(stored.zero_utc), ruling.utc or stored.zero_utc
        with self._lock:
            known, zero_s = self._zeros.get(stored.run, ("", 0.0))
            if known != since:
                zero_s = zero_by_utc(self._clock, began, state.stepped_ms - ruling.stepped_ms)
                behind_s = (log[-1].logged_s if log else 0) - self._clock_from(zero_s, ruling).elapsed_s()
                if behind_s > LEAST_STEP_S and ruling.rate:
                    zero_s -= behind_s / ruling.rate
                self._zeros[stored.run] = (since, zero_s)
            return self._clock_from(zero_s, ruling)

    def _clock_from(self, zero_s: float, ruling: Ruling) -> RunClock:
        return RunClock(self._clock, zero_s, ruling.rate, ruling.to_s)

    def unlogged_ms(self, zero_utc: datetime, state: State, clock: RunClock) -> int | None:
        """By how much the wall clock has stepped for a run beyond what its log says; None if by less than a step.

        It is what would be wrong with elapsed if it were counted from UTC, so whatever was logged before a server died
        counts, and nothing is logged twice.
        """
        ruling = state.rehearsal.ruling
        if ruling.rate == 0:
            return None  # A clock that stands does not go by UTC; from its next ruling on it is counted anew.
        passed_s = (self._clock.utc() - (ruling.utc or zero_utc)).total_seconds()
        by_utc_s = passed_s - (state.stepped_ms - ruling.stepped_ms) / 1000
        off_s = by_utc_s - (clock.elapsed_s() - ruling.to_s) / ruling.rate
        return round(off_s * 1000) if abs(off_s) > LEAST_STEP_S else None

    def keep(self) -> None:
        """Write what is new. On a full disk what was there stays, and the next look tries again."""
        if self._data_dir is None:
            return
        with self._lock:
            kept = Kept(self._clock.anchor, dict(self._zeros))
        if kept.anchor.boot and kept != self._kept:
            with suppress(OSError):
                keep(self._data_dir, kept)
                self._kept = kept


def _since(ruling: Ruling) -> str:
    """What a run's clock goes on from: its last ruling; empty where it was never ruled, and goes on from zero."""
    return "" if ruling.utc is None else f"{instant(ruling.utc)} {ruling.seq}"
