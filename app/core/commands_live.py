"""Orders of a live outing beside marks and planning: warnings, counts, polls, rounds, tools, flags. See `commands`."""

from dataclasses import dataclass

from app.core.procedure import Designator, StepId


@dataclass(frozen=True, slots=True)
class AcknowledgeWarning:
    """`person` has read the warning of a step, or it was read to them."""

    step: StepId
    person: Designator
    heard: bool = False


@dataclass(frozen=True, slots=True)
class CountAction:
    """One more of a step's like actions is done: the one of this `number`, counted from 1.

    `values`: typed with it, for when it is the last one.
    """

    step: StepId
    number: int
    values: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class AcceptValues:
    """The lead accepts what a step's call reported out of tolerance."""

    step: StepId
    reason: str


@dataclass(frozen=True, slots=True)
class ConfirmStep:
    """The second person confirms a step that was called complete."""

    step: StepId
    person: Designator
    heard: bool = False


@dataclass(frozen=True, slots=True)
class CorrectMark:
    """Change a mark: the moment of this order becomes its time, unless `keep_time`.

    `values` replace those of the same names.
    """

    step: StepId
    reason: str
    values: tuple[tuple[str, float], ...] = ()
    keep_time: bool = False


@dataclass(frozen=True, slots=True)
class CallPoll:
    """Ask go or no-go of these people, of everyone if nobody is named."""

    question: str
    who: tuple[Designator, ...] = ()


@dataclass(frozen=True, slots=True)
class AnswerPoll:
    """`reason`: of a no-go, why; of a go, what lifts the no-go that stands, if one does."""

    poll: str
    person: Designator
    go: bool
    reason: str = ""
    heard: bool = False


@dataclass(frozen=True, slots=True)
class ClosePoll:
    poll: str
    reason: str


@dataclass(frozen=True, slots=True)
class AnswerRound:
    """A round is made, with gauges of the same person read at it as (supply, value)."""

    round: str
    person: Designator | None
    good: bool
    answer: str = ""
    readings: tuple[tuple[str, float], ...] = ()
    heard: bool = False


@dataclass(frozen=True, slots=True)
class TakeReading:
    """`anew`: the supply was exchanged or filled."""

    supply: str
    person: Designator | None
    value: float
    anew: bool = False
    heard: bool = False


@dataclass(frozen=True, slots=True)
class MoveTool:
    """`how` is one of events.TOOL_WAYS."""

    tool: str
    how: str
    person: Designator | None = None
    where: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class RaiseFlag:
    text: str
    step: StepId | None = None
    person: Designator | None = None


@dataclass(frozen=True, slots=True)
class ClearFlag:
    """`flag` is the seq of the event that raised it."""

    flag: int
    reason: str


@dataclass(frozen=True, slots=True)
class StrikeEntry:
    """A reading or an answer at a round was wrong; `entry` is its seq."""

    entry: int
    reason: str


@dataclass(frozen=True, slots=True)
class HandOver:
    """Whoever signs this hands over to `to`; `text` is what must be said."""

    to: str
    text: str


LiveCommand = (
    AcknowledgeWarning
    | CountAction
    | AcceptValues
    | ConfirmStep
    | CorrectMark
    | CallPoll
    | AnswerPoll
    | ClosePoll
    | AnswerRound
    | TakeReading
    | MoveTool
    | RaiseFlag
    | ClearFlag
    | StrikeEntry
    | HandOver
)
