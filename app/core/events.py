"""What can happen in a run: frozen, past-tense values, and their one JSON form. It decides nothing.

A new event kind is a new frozen class here, listed in `Event`, with a `case` in `fold`. Its fields are plain
strings, numbers, booleans and tuples of those, so that the JSON form below needs no code of its own.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass, fields
from datetime import datetime
from types import MappingProxyType
from typing import Any, NamedTuple, cast, get_args

from app.core.events_progress import (
    ActionsDone,
    ActionsTakenBack,
    CompletionCalled,
    MarkCorrected,
    StepConfirmed,
    ValuesAccepted,
    WarningAcknowledged,
)
from app.core.events_rehearsal import RehearsalEvent
from app.core.events_watch import (
    EntryStruck,
    FlagCleared,
    FlagRaised,
    PollAnswered,
    PollCalled,
    PollClosed,
    ReadingTaken,
    RoundAnswered,
    ShiftHandedOver,
    ToolMoved,
)
from app.core.procedure import Designator, StepId, TaskId

VERSION = 1
"""The version written with every event; a reader refuses a version that it does not know."""


@dataclass(frozen=True, slots=True)
class RunStarted:
    """Zero. `zero_utc` is RFC 3339; `kind` is ``live`` or ``rehearsal``."""

    revision: str
    kind: str
    zero_utc: str


@dataclass(frozen=True, slots=True)
class StepMarked:
    """A step is complete. `ordered_because`: why the lead overruled an open prerequisite, or values not given."""

    step: StepId
    values: tuple[tuple[str, float], ...] = ()
    ordered_because: str | None = None


@dataclass(frozen=True, slots=True)
class StepReopened:
    """A mark or a "not needed" is taken back. `undone` tells a slip undone at once from a later correction.

    `asks_again`: the open holds that come after it; their goes were given on what is open again, and count no more.
    """

    step: StepId
    reason: str
    undone: bool = False
    asks_again: tuple[StepId, ...] = ()


@dataclass(frozen=True, slots=True)
class StartRecorded:
    step: StepId


@dataclass(frozen=True, slots=True)
class NoteAdded:
    """A note on the run, or on a step or a person of it."""

    text: str
    step: StepId | None = None
    person: Designator | None = None


@dataclass(frozen=True, slots=True)
class GoGiven:
    """At a hold, `person` is go. `lifted_because`: what lifts the no-go that stood. `heard`: said on the voice loop and
    entered by somebody else.
    """

    step: StepId
    person: Designator
    lifted_because: str | None = None
    heard: bool = False


@dataclass(frozen=True, slots=True)
class NoGoGiven:
    """At a hold, `person` is no-go. It stands until the same person is go, which then says what lifts it."""

    step: StepId
    person: Designator
    reason: str
    heard: bool = False


@dataclass(frozen=True, slots=True)
class StepNotNeeded:
    step: StepId
    reason: str


@dataclass(frozen=True, slots=True)
class TasksPutOff:
    """Tasks taken out of this run, together with those that depend on them. They carry over."""

    tasks: tuple[TaskId, ...]
    reason: str


@dataclass(frozen=True, slots=True)
class TaskPutBack:
    """A task that was put off is in the run again, at its old place in each list."""

    task: TaskId
    reason: str


@dataclass(frozen=True, slots=True)
class WorkTaken:
    """A get-ahead item, or put-off work, was put into each person's list before a task (None: at the end)."""

    task: TaskId
    places: tuple[tuple[Designator, TaskId | None], ...]


@dataclass(frozen=True, slots=True)
class WorkGivenBack:
    """Taken work went back, before it was begun."""

    task: TaskId


@dataclass(frozen=True, slots=True)
class TakesRevised:
    """From now on the step is counted on to take `takes_s` in all. The plan keeps what it had."""

    step: StepId
    takes_s: int
    reason: str


@dataclass(frozen=True, slots=True)
class TasksReordered:
    """Some of a person's unbegun tasks, in their new order: they fill the places that they hold in the list now."""

    person: Designator
    tasks: tuple[TaskId, ...]
    reason: str


@dataclass(frozen=True, slots=True)
class StepAdded:
    """A step that no file knows, as a task of its own.

    Attributes:
        task: the id that was made for it; its one step is ``task/1``. do, who, takes_s: what, by whom, likely seconds.
        after: prerequisites as (task, step number; None for the whole task).
        places: the task it comes before in each person's list (None: at the end).
    """

    task: TaskId
    do: str
    who: tuple[Designator, ...]
    takes_s: int
    after: tuple[tuple[TaskId, int | None], ...]
    places: tuple[tuple[Designator, TaskId | None], ...]
    reason: str


@dataclass(frozen=True, slots=True)
class ClockStepped:
    """The server's wall clock jumped by `step_ms` while the elapsed clock ran on."""

    step_ms: int


@dataclass(frozen=True, slots=True)
class RunEnded:
    reason: str


Event = (
    RunStarted
    | StepMarked
    | StepReopened
    | StartRecorded
    | NoteAdded
    | GoGiven
    | NoGoGiven
    | WarningAcknowledged
    | ActionsDone
    | ActionsTakenBack
    | CompletionCalled
    | ValuesAccepted
    | StepConfirmed
    | MarkCorrected
    | StepNotNeeded
    | TasksPutOff
    | TaskPutBack
    | WorkTaken
    | WorkGivenBack
    | TakesRevised
    | TasksReordered
    | StepAdded
    | PollCalled
    | PollAnswered
    | PollClosed
    | RoundAnswered
    | ReadingTaken
    | ToolMoved
    | FlagRaised
    | FlagCleared
    | EntryStruck
    | ShiftHandedOver
    | ClockStepped
    | RehearsalEvent
    | RunEnded
)

KINDS: MappingProxyType[str, type[Event]] = MappingProxyType({kind.__name__: kind for kind in get_args(Event)})


class Logged(NamedTuple):
    """An event as it stands in the log. A long log has many: as a dataclass each took four times as long to make.

    Attributes:
        seq: 1, 2, 3 ... within its run: the order of truth.
        at_s: elapsed seconds when it happened.
        logged_s: elapsed seconds when it reached the server; later than `at_s` for a mark that was heard late.
        logged_at: the same moment in UTC.
        by: who said so. station: where it was entered. key: the sender's UUID, once per press.
        chain: hex SHA-256 over the previous chain and this event's canonical JSON.
    """

    seq: int
    at_s: int
    logged_s: int
    logged_at: datetime
    by: str
    station: str
    key: str
    event: Event
    chain: str = ""


class UnknownEvent(ValueError):
    """A log holds an event that this Leadline does not know: written by a newer one, or damaged."""


def kind_of(event: Event) -> str:
    return type(event).__name__


def body_of(event: Event) -> dict[str, Any]:
    """The event's fields as JSON values, in field order."""
    return {each.name: _plain(getattr(event, each.name)) for each in fields(event)}


def _plain(value: object) -> object:
    return [_plain(each) for each in value] if isinstance(value, tuple) else value


def event_from(kind: str, version: int, body: dict[str, Any]) -> Event:
    """The event of a stored kind, version and body.

    Raises:
        UnknownEvent: the kind, the version or a field is not known here.
    """
    if kind not in KINDS or version != VERSION:
        raise UnknownEvent(f"this Leadline does not know the event {kind!r}, version {version}")
    try:
        make = cast(Callable[..., Event], KINDS[kind])
        return make(**{name: _frozen(value) if type(value) is list else value for name, value in body.items()})
    except TypeError as error:
        raise UnknownEvent(f"the stored event {kind!r} does not fit: {error}") from error


def _frozen(value: list[Any]) -> tuple[Any, ...]:
    return tuple(_frozen(each) if type(each) is list else each for each in value)


def canonical(value: object) -> str:
    """The one JSON text of a value: keys sorted, no spaces, UTF-8 characters as they are, NaN refused."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
