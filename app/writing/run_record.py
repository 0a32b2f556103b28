"""What the files of a run are written from: where it stood, its log, its zero, its head. It writes none itself."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property

from app.core.as_run import AsRunStep
from app.core.debrief_again import worked
from app.core.events import Logged
from app.core.events_rehearsal import ClockRuled
from app.core.situation import Situation


@dataclass(frozen=True)
class RunRecord:
    """A run at the moment of its situation, at whose elapsed second the log ends.

    Attributes:
        run: its number here. zero_utc: its zero. head: ``SEQ:HASH`` of the log.
    """

    run: int
    situation: Situation
    log: Sequence[Logged]
    zero_utc: datetime
    head: str

    @cached_property
    def steps(self) -> tuple[AsRunStep, ...]:
        return worked(self.situation, self.log).steps

    @cached_property
    def _rulings(self) -> tuple[tuple[int, datetime, float], ...]:
        """(from elapsed second, its UTC, seconds each second) of the zero and of each ruling of the clock, in order."""
        ruled = ((each.event, each.logged_at) for each in self.log if isinstance(each.event, ClockRuled))
        return ((0, self.zero_utc, 1.0), *((event.to_s, at, event.rate) for event, at in ruled))

    def utc(self, elapsed_s: int) -> datetime:
        """When the clock showed this: the zero and so many seconds more, or by the rulings of a rehearsal's clock. What
        was set over is at its ruling. The last moment that there is a date for at most."""
        from_s, since, rate, until = self._stretch(elapsed_s)
        try:
            found = since + timedelta(seconds=(elapsed_s - from_s) / rate if rate else 0)
        except OverflowError:
            return datetime.max.replace(tzinfo=self.zero_utc.tzinfo)
        return found if until is None else min(found, until)

    def _stretch(self, elapsed_s: int) -> tuple[int, datetime, float, datetime | None]:
        """How the clock went there: (from elapsed second, its UTC, seconds each second, UTC of the next ruling)."""
        found, *later = self._rulings
        for ruling in later:
            if ruling[0] > elapsed_s or found[0] == elapsed_s > 0:
                return (*found, ruling[1])
            found = ruling
        return (*found, None)


def state_words(step: AsRunStep) -> str:
    """A step's state; a get-ahead item that nobody took has none."""
    return "not taken" if step.state is None else step.state.value


def start_words(step: AsRunStep) -> str:
    """How its start is known; empty where it has none."""
    return "" if step.start_s is None else "recorded" if step.start_known else "worked out"
