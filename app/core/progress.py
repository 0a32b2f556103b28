"""How far open steps are: warnings acknowledged, actions counted, calls that wait for somebody. It refuses nothing."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TypeVar

from app.core.events import (
    Logged,
)
from app.core.events_progress import (
    ActionsDone,
    ActionsTakenBack,
    CompletionCalled,
    StepConfirmed,
    ValuesAccepted,
    WarningAcknowledged,
)
from app.core.procedure import Designator, StepId

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Called:
    """A step that was called complete and is not done yet.

    Attributes:
        at_s: when it was called, elapsed seconds; seq, by: of that event. values, ordered_because: as for a mark.
        accepted, accepted_s: the lead's reason for taking values out of tolerance, and when. confirmed_s: when the
            second person confirmed.
    """

    at_s: int
    seq: int
    by: str
    values: tuple[tuple[str, float], ...] = ()
    ordered_because: str | None = None
    accepted: str | None = None
    accepted_s: int | None = None
    confirmed_s: int | None = None


@dataclass(frozen=True, slots=True)
class Counted:
    """One action of a counted step: when, elapsed seconds, and by which event."""

    at_s: int
    seq: int


@dataclass(frozen=True, slots=True)
class Progress:
    """`acks`: step to person to elapsed second. `counts` stay when the step is done; `called` are open steps only.

    `anew`: the elapsed second at which a reopening of the step was logged that undid no slip, or one that had the goes
    of this hold asked for again.
    """

    called: Mapping[StepId, Called] = field(default_factory=dict)
    counts: Mapping[StepId, tuple[Counted, ...]] = field(default_factory=dict)
    acks: Mapping[StepId, Mapping[Designator, int]] = field(default_factory=dict)
    anew: Mapping[StepId, int] = field(default_factory=dict)


ProgressEvent = WarningAcknowledged | ActionsDone | ActionsTakenBack | CompletionCalled | ValuesAccepted | StepConfirmed


def progressed(progress: Progress, event: ProgressEvent, logged: Logged) -> Progress:
    """The progress after one event."""
    match event:
        case WarningAcknowledged(step, person):
            acks = {**progress.acks.get(step, {}), person: logged.at_s}
            return replace(progress, acks={**progress.acks, step: acks})
        case ActionsDone(step, first, last):
            new = (Counted(logged.at_s, logged.seq),) * (last - first + 1)
            # A past moment may lack that what stood here was taken back, which was entered later.
            before = progress.counts.get(step, ())[: first - 1]
            return replace(progress, counts={**progress.counts, step: (*before, *new)})
        case ActionsTakenBack(step, left):
            return replace(progress, counts={**progress.counts, step: progress.counts.get(step, ())[:left]})
        case CompletionCalled(step, values, ordered_because):
            call = Called(logged.at_s, logged.seq, logged.by, values, ordered_because)
            return replace(progress, called={**progress.called, step: call})
        case ValuesAccepted() | StepConfirmed():
            return _answered(progress, event, logged)


def _answered(progress: Progress, event: ValuesAccepted | StepConfirmed, logged: Logged) -> Progress:
    call = progress.called.get(event.step)
    if call is None:  # A past moment may have the answer without the call, which was entered with a later time.
        return progress
    if isinstance(event, ValuesAccepted):
        call = replace(call, accepted=event.reason, accepted_s=logged.at_s)
    else:
        call = replace(call, confirmed_s=logged.at_s)
    return replace(progress, called={**progress.called, event.step: call})


def settled(progress: Progress, step: StepId) -> Progress:
    """The step was marked, or is not needed: no call of it waits any more."""
    return replace(progress, called=_without(progress.called, step)) if step in progress.called else progress


def reopened(progress: Progress, step: StepId, undone: bool) -> Progress:
    """Open again. A slip that is undone keeps what was counted; else it is counted anew. Warnings stay acknowledged."""
    left = settled(progress, step)
    return left if undone or step not in left.counts else replace(left, counts=_without(left.counts, step))


def recounted(progress: Progress, step: StepId, was_s: int, now_s: int | None) -> Progress:
    """The actions counted at `was_s` are of `now_s`, as the mark that was corrected so; with None they are dropped."""
    counts = progress.counts.get(step, ())
    if was_s == now_s or all(each.at_s != was_s for each in counts):
        return progress
    moved = [replace(each, at_s=now_s) if each.at_s == was_s and now_s is not None else each for each in counts]
    kept = tuple(each for each in moved if now_s is not None or each.at_s != was_s)
    return replace(progress, counts={**progress.counts, step: kept})


def _without(held: Mapping[StepId, T], step: StepId) -> dict[StepId, T]:
    return {other: each for other, each in held.items() if other != step}
