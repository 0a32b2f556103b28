"""What the files of a run are written from: where it stood, its log, its zero, its head. It writes none itself."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from app.core.as_run import AsRunStep, as_run
from app.core.events import Logged
from app.core.situation import Situation


@dataclass(frozen=True, slots=True)
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

    @property
    def steps(self) -> tuple[AsRunStep, ...]:
        return as_run(self.situation)

    def utc(self, elapsed_s: int) -> datetime:
        """The zero and so many seconds more; the last moment that there is a date for at most."""
        try:
            return self.zero_utc + timedelta(seconds=elapsed_s)
        except OverflowError:
            return datetime.max.replace(tzinfo=self.zero_utc.tzinfo)


def state_words(step: AsRunStep) -> str:
    """A step's state; a get-ahead item that nobody took has none."""
    return "not taken" if step.state is None else step.state.value


def start_words(step: AsRunStep) -> str:
    """How its start is known; empty where it has none."""
    return "" if step.start_s is None else "recorded" if step.start_known else "worked out"
