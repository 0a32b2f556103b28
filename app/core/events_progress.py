"""Events about a step on its way to being done: frozen, past-tense values. `events` has the rest and the JSON form."""

from dataclasses import dataclass

from app.core.procedure import Designator, StepId


@dataclass(frozen=True, slots=True)
class WarningAcknowledged:
    """`person` has read, or was read, the warning of a step. `heard`: said on the voice loop."""

    step: StepId
    person: Designator
    heard: bool = False


@dataclass(frozen=True, slots=True)
class ActionsDone:
    """Of a step of several like actions those numbered `first` to `last`, counted from 1."""

    step: StepId
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class ActionsTakenBack:
    """The last press of a count was a slip: `left` actions stand."""

    step: StepId
    left: int


@dataclass(frozen=True, slots=True)
class CompletionCalled:
    """A step was called complete, but it is not done: it waits for the lead's acceptance, or for the second person.

    Fields as in `StepMarked`, which follows when nothing is missing any more. A later call takes the place of this one.
    """

    step: StepId
    values: tuple[tuple[str, float], ...] = ()
    ordered_because: str | None = None


@dataclass(frozen=True, slots=True)
class ValuesAccepted:
    """The lead accepts the values of a step that are out of tolerance."""

    step: StepId
    reason: str


@dataclass(frozen=True, slots=True)
class StepConfirmed:
    """The second person confirms that the step is complete. `heard`: said on the voice loop."""

    step: StepId
    person: Designator
    heard: bool = False


@dataclass(frozen=True, slots=True)
class MarkCorrected:
    """A mark gets another time, or other values. Times are elapsed seconds; `was_s` and `values_were` are the old."""

    step: StepId
    was_s: int
    now_s: int
    values_were: tuple[tuple[str, float], ...]
    values: tuple[tuple[str, float], ...]
    reason: str
