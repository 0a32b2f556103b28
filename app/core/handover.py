"""What a change of shift must be told of the last hour: which entries are decisions. It words and stores nothing."""

from collections.abc import Iterable, Mapping, Sequence

from app.core.events import (
    Event,
    GoGiven,
    Logged,
    NoGoGiven,
    NoteAdded,
    RunEnded,
    StepAdded,
    StepMarked,
    StepNotNeeded,
    StepReopened,
    TakesRevised,
    TaskPutBack,
    TasksPutOff,
    TasksReordered,
    WorkGivenBack,
    WorkTaken,
)
from app.core.events_progress import CompletionCalled, MarkCorrected, ValuesAccepted
from app.core.events_watch import EntryStruck, FlagCleared, PollAnswered, PollClosed, ShiftHandedOver, ToolMoved
from app.core.procedure import StepId
from app.core.state import State

LAST_S = 3600
"""So many seconds back a shift is told what was decided. The length is the project's own wish, no source."""

_GRAVE = ("lost", "left outside")
_DECIDED = (
    NoGoGiven,
    StepNotNeeded,
    TasksPutOff,
    TaskPutBack,
    WorkTaken,
    WorkGivenBack,
    TakesRevised,
    TasksReordered,
    StepAdded,
    ValuesAccepted,
    MarkCorrected,
    PollClosed,
    FlagCleared,
    EntryStruck,
    RunEnded,
)


def is_decision(event: Event) -> bool:
    """Whether somebody decided something, mostly with a reason, that the bare state of the run does not tell."""
    match event:
        case StepMarked(ordered_because=because) | GoGiven(lifted_because=because):
            return because is not None
        case PollAnswered(reason=reason):
            return bool(reason)
        case StepReopened(undone=undone):
            return not undone
        case ToolMoved(how=how):
            return how in _GRAVE
        case _:
            return isinstance(event, _DECIDED)


def is_note(event: Event) -> bool:
    """What was said for whoever comes after: a note, or the word of a shift that handed over."""
    return isinstance(event, NoteAdded | ShiftHandedOver)


def decided_s(logged: Logged) -> int:
    """Elapsed second: a correction was decided when it was entered; its own time is that of the mark."""
    return logged.logged_s if isinstance(logged.event, MarkCorrected) else logged.at_s


def last_decisions(log: Iterable[Logged], until_s: int) -> tuple[Logged, ...]:
    """The decisions of the LAST_S seconds up to `until_s`, the oldest first."""
    return _last((logged for logged in log if is_decision(logged.event)), until_s)


def last_notes(log: Iterable[Logged], until_s: int) -> tuple[Logged, ...]:
    """The notes of the LAST_S seconds up to `until_s`, the oldest first."""
    return _last((logged for logged in log if is_note(logged.event)), until_s)


def standing(log: Sequence[Logged], state: State, until_s: int) -> tuple[Logged, ...]:
    """The older decisions that `state` still carries, the oldest first: what was accepted, ordered, put off."""
    undone = {
        logged.event.step: logged.seq
        for logged in log
        if isinstance(logged.event, StepReopened | CompletionCalled) and logged.at_s <= until_s
    }
    found = [
        logged
        for logged in log
        if decided_s(logged) <= until_s - LAST_S and is_decision(logged.event) and _stands(logged, state, undone)
    ]
    return tuple(sorted(found, key=lambda logged: (decided_s(logged), logged.seq)))


def _stands(logged: Logged, state: State, undone: Mapping[StepId, int]) -> bool:
    """Whether the decision still shows in the state. `undone`: the last seq that reopened a step or called it anew."""
    match logged.event:
        case StepMarked(step):
            return step in state.done and state.done[step].seq == logged.seq
        case ValuesAccepted(step):
            return undone.get(step, 0) < logged.seq
        case StepNotNeeded(step, reason):
            return state.not_needed.get(step) == reason
        case TasksPutOff(tasks, reason):
            return any(state.put_off.get(task) == reason for task in tasks)
        case TakesRevised(step, takes_s):
            return state.takes.get(step) == takes_s and step not in state.done
        case ToolMoved(tool):
            place = state.watch.tools.get(tool)
            return place is not None and place.seq == logged.seq
        case _:
            return False


def _last(found: Iterable[Logged], until_s: int) -> tuple[Logged, ...]:
    within = [logged for logged in found if until_s - LAST_S < decided_s(logged) <= until_s]
    return tuple(sorted(within, key=lambda logged: (decided_s(logged), logged.seq)))
