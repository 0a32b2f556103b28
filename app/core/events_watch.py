"""Events beside the steps: polls, rounds, gauges, tools, flags, shifts. `events` has the rest and the JSON form."""

from dataclasses import dataclass

from app.core.procedure import Designator, StepId

TOOL_WAYS = ("taken", "handed", "left", "stowed", "lost", "found", "left outside")
"""How a tool moves: taken out by a person; handed to one; left at a place, to be fetched; stowed inside; lost; found by
a person; left outside for good, with a reason. The last one and ``stowed`` account for it."""


@dataclass(frozen=True, slots=True)
class PollCalled:
    """Go or no-go is asked round the room. `poll` is its id in this run, ``poll-1``; `who` are asked."""

    poll: str
    question: str
    who: tuple[Designator, ...]


@dataclass(frozen=True, slots=True)
class PollAnswered:
    """`reason`: of a no-go, why; of a go that lifts a no-go, what lifts it; else empty."""

    poll: str
    person: Designator
    go: bool
    reason: str = ""
    heard: bool = False


@dataclass(frozen=True, slots=True)
class PollClosed:
    """All are go, or the lead closes it before that and says why."""

    poll: str
    reason: str


@dataclass(frozen=True, slots=True)
class RoundAnswered:
    """A round was made. `person` is None where the file names nobody. `good` False raises a flag."""

    round: str
    person: Designator | None
    good: bool
    answer: str = ""
    heard: bool = False


@dataclass(frozen=True, slots=True)
class ReadingTaken:
    """A gauge was read, in the supply's unit. `anew`: exchanged or filled, so readings before it tell nothing of it."""

    supply: str
    person: Designator | None
    value: float
    anew: bool = False
    heard: bool = False


@dataclass(frozen=True, slots=True)
class ToolMoved:
    """`how` is one of TOOL_WAYS. `person` has it then, or did it; `where` and `reason` as far as they were said."""

    tool: str
    how: str
    person: Designator | None = None
    where: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class FlagRaised:
    """Something the lead must look at, on the run, a step or a person. It stands until it is cleared."""

    text: str
    step: StepId | None = None
    person: Designator | None = None


@dataclass(frozen=True, slots=True)
class FlagCleared:
    """`flag` is the seq of the event that raised it: a flag, or a bad answer at a round."""

    flag: int
    reason: str


@dataclass(frozen=True, slots=True)
class EntryStruck:
    """A reading or an answer at a round was entered wrongly: it counts no more, and stays in the log as it was.

    `entry` is its seq.
    """

    entry: int
    reason: str


@dataclass(frozen=True, slots=True)
class ShiftHandedOver:
    """Whoever signed this order hands over to `to`."""

    to: str
    text: str
