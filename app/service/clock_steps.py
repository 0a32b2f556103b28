"""Steps of the wall clock on their way into the logs, so that none is lost or doubled when the server dies.

It owns what is still to be logged, and the anchor in the data folder. It writes no log itself.
"""

import uuid
from collections.abc import Callable, Iterable
from contextlib import suppress
from pathlib import Path

from app.core.events import ClockStepped
from app.service.live_run import LiveRun
from app.service.values import Sender
from app.store.anchor import keep_anchor, read_anchor
from app.store.clock import ServerClock

LogStep = Callable[[int, ClockStepped, Sender], None]


class ClockSteps:
    """The steps of one clock. `found_behind` may come from any thread, all else from one."""

    def __init__(self, clock: ServerClock, data_dir: Path) -> None:
        """Go on from the anchor that the last server left, if this is the same boot."""
        self._clock = clock
        self._data_dir = data_dir
        self._to_log: list[tuple[int, ClockStepped, Sender]] = []
        self._kept = read_anchor(data_dir)
        if self._kept is not None:
            clock.go_on_from(self._kept)
        self._keep()

    def take(self, going_on: Callable[[], Iterable[int]]) -> int | None:
        """Note a step for every run that goes on.

        They are read into memory before the clock takes the step: a run read between the step and its entry in the
        log would count elapsed from a zero that is off by as much.

        Returns:
            The step in milliseconds; None if there was none.
        """
        runs = tuple(going_on())
        sender = Sender("Leadline", "server", self._clock.anchor.key)
        step_ms = self._clock.step_ms()
        if step_ms is not None:
            self._to_log += [(run, ClockStepped(step_ms), sender) for run in runs]
        return step_ms

    def found_behind(self, live: LiveRun) -> None:
        """Note a step for a run that goes on, whose log is ahead of this clock. Called once for each run."""
        if live.behind_ms and live.state.ended_s is None:
            key = f"{self._clock.anchor.key} behind {live.state.seq}"
            sender = Sender("Leadline", "server", str(uuid.uuid5(uuid.NAMESPACE_OID, key)))
            self._to_log.append((live.stored.run, ClockStepped(-live.behind_ms), sender))

    def log(self, log_step: LogStep) -> None:
        """Log what was taken, then keep the new anchor: a server that dies between finds the steps again, and their
        keys tell which runs have them.

        Raises:
            StoreFault: it could not be stored; the next call goes on from there.
        """
        while self._to_log:
            log_step(*self._to_log[0])
            self._to_log.pop(0)
        self._keep()

    def _keep(self) -> None:
        """On a full disk the anchor before stays, and the next look tries again."""
        if self._clock.anchor.boot and self._kept != self._clock.anchor:
            with suppress(OSError):
                keep_anchor(self._data_dir, self._clock.anchor)
                self._kept = self._clock.anchor
