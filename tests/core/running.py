"""Drives a run in memory, for tests of the core: decide, log, fold. It keeps no clock; each call says its second."""

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta

from app.core.commands import Command, MarkStep
from app.core.commands_live import AcknowledgeWarning, ConfirmStep
from app.core.decide import decide
from app.core.events import Event, Logged, RunStarted, StepMarked
from app.core.fold import fold
from app.core.marking import unacknowledged
from app.core.procedure import Designator, Procedure, Step, StepId
from app.core.situation import Prepared, Situation, StepState
from app.core.state import State
from app.core.undoing import Press, last_of, undoable

ZERO = datetime(2031, 5, 4, 7, 0, tzinfo=UTC)


def logged(seq: int, at_s: int, event: Event, logged_s: int | None = None, by: str = "desk") -> Logged:
    entered_s = at_s if logged_s is None else logged_s
    return Logged(seq, at_s, entered_s, ZERO + timedelta(seconds=entered_s), by, "test", f"key-{seq}", event)


def marked(procedure: Procedure, at_s: int, marks: Mapping[StepId, int]) -> Situation:
    """Where the run stands at `at_s` with these steps marked, in this order, at these seconds."""
    log = [logged(seq, mark_s, StepMarked(step)) for seq, (step, mark_s) in enumerate(marks.items(), start=1)]
    return Situation(Prepared(procedure), fold(log), at_s)


def good_values(step: Step) -> tuple[tuple[str, float], ...]:
    """A value in tolerance for each that the step records."""
    return tuple(
        (value.name, next((b for b in (value.low, value.high) if b is not None), 0.0)) for value in step.record
    )


def orders_for(situation: Situation, step: StepId) -> tuple[Command, ...]:
    """All that is called until the step is done: warnings acknowledged, values typed, the second person confirming."""
    about = situation.step(step)
    read = (AcknowledgeWarning(step, person) for person in unacknowledged(situation, about))
    confirmed = [ConfirmStep(step, about.confirm_by)] if about.confirm_by else []
    return (*read, MarkStep(step, good_values(about)), *confirmed)


class Run:
    """A run of one procedure whose log is a list."""

    def __init__(self, procedure: Procedure) -> None:
        self.prepared = Prepared(procedure)
        self.log: list[Logged] = [logged(1, 0, RunStarted("revision", "rehearsal", "2031-05-04T07:00:00.000Z"))]
        self.now_s = 0

    def order(self, command: Command, now_s: int, at_s: int | None = None) -> tuple[Event, ...]:
        """Carry out `command`, entered at `now_s` and meant for `at_s`. Raises Refusal."""
        meant_s = now_s if at_s is None else at_s
        events = decide(self.at(now_s), command, meant_s)
        for event in events:
            self.log.append(logged(len(self.log) + 1, meant_s, event, now_s))
        self.now_s = now_s
        return events

    def mark(self, **steps: int) -> "Run":
        """Mark steps at seconds, with all that it takes; ``a_1=300`` marks ``a/1``."""
        for name, at_s in steps.items():
            now_s = max(at_s, self.now_s)
            for command in orders_for(self.at(now_s), name.replace("_", "/")):
                self.order(command, now_s, at_s)
        return self

    @property
    def state(self) -> State:
        return fold(self.log)

    def at(self, now_s: int) -> Situation:
        return Situation(self.prepared, self.state, now_s)

    def step_state(self, step: StepId, now_s: int) -> StepState | None:
        situation = self.at(now_s)
        return situation.states[situation.network.index[step]]


def last_press(situation: Situation, person: Designator | None) -> Press | None:
    """What this person may take back now."""
    return last_of(situation, undoable(situation), person)
