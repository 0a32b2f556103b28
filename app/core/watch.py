"""What is watched beside the steps: polls, rounds, gauges, tools, flags. Values and their fold; it refuses nothing."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TypeVar

from app.core.events import Logged
from app.core.events_watch import (
    EntryStruck,
    FlagCleared,
    FlagRaised,
    PollAnswered,
    PollCalled,
    PollClosed,
    ReadingTaken,
    RoundAnswered,
    ToolMoved,
)
from app.core.procedure import Designator, StepId

T = TypeVar("T")
Who = str
"""A designator, or empty for a round or supply that names nobody."""


@dataclass(frozen=True, slots=True)
class Answer:
    """One person's answer at a hold or in a poll. `by` is who entered it; `heard`: for somebody on the voice loop.

    `reason`: why no-go, or what lifted the no-go that stood before.
    """

    go: bool
    at_s: int
    reason: str = ""
    by: str = ""
    heard: bool = False


ALL_GO = "all are go"
"""Why a poll closes by itself."""


@dataclass(frozen=True, slots=True)
class Poll:
    """A go/no-go round the room. Times are elapsed seconds; `closed_s` is None while it is open."""

    id: str
    question: str
    who: tuple[Designator, ...]
    called_s: int
    by: str
    answers: Mapping[Designator, Answer] = field(default_factory=dict)
    closed_s: int | None = None
    closed_because: str = ""

    @property
    def missing(self) -> tuple[Designator, ...]:
        """Who is not go, in the order asked."""
        return tuple(person for person in self.who if not (person in self.answers and self.answers[person].go))


@dataclass(frozen=True, slots=True)
class Made:
    """A round that was made: when, what was answered, and by which event."""

    at_s: int
    seq: int
    good: bool
    answer: str
    by: str
    heard: bool


@dataclass(frozen=True, slots=True)
class Reading:
    """A gauge's reading, in the supply's unit."""

    at_s: int
    seq: int
    value: float
    anew: bool = False


@dataclass(frozen=True, slots=True)
class ToolPlace:
    """Where a tool is since `at_s`: `how` it came there (TOOL_WAYS), who has it or did it, where, and why."""

    how: str
    at_s: int
    seq: int
    person: Designator | None = None
    where: str = ""
    reason: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class Flag:
    """Open until cleared. `seq` is that of the event that raised it; `round` is set for a bad answer at one."""

    seq: int
    at_s: int
    by: str
    text: str
    step: StepId | None = None
    person: Designator | None = None
    round: str = ""


NOTES_KEPT = 20
"""Of one step or person so many notes stand beside it, the newest; older ones stand in the log. Our own bound."""


@dataclass(frozen=True, slots=True)
class Note:
    """A note on a step or a person."""

    at_s: int
    seq: int
    by: str
    text: str


def noted(notes: tuple[Note, ...], new: Note) -> tuple[Note, ...]:
    """With a new note at its place in time: one that was heard late stands before later ones."""
    return tuple(sorted((*notes, new), key=lambda each: (each.at_s, each.seq)))[-NOTES_KEPT:]


@dataclass(frozen=True, slots=True)
class Watch:
    """`rounds` and `readings`: name to person to what was entered, in order of time; `tools`: those with a record."""

    polls: Mapping[str, Poll] = field(default_factory=dict)
    rounds: Mapping[str, Mapping[Who, tuple[Made, ...]]] = field(default_factory=dict)
    readings: Mapping[str, Mapping[Who, tuple[Reading, ...]]] = field(default_factory=dict)
    tools: Mapping[str, ToolPlace] = field(default_factory=dict)
    flags: Mapping[int, Flag] = field(default_factory=dict)

    @property
    def open_polls(self) -> tuple[Poll, ...]:
        return tuple(poll for poll in self.polls.values() if poll.closed_s is None)


WatchEvent = (
    PollCalled
    | PollAnswered
    | PollClosed
    | RoundAnswered
    | ReadingTaken
    | ToolMoved
    | FlagRaised
    | FlagCleared
    | EntryStruck
)


def watched(watch: Watch, event: WatchEvent, logged: Logged) -> Watch:
    """The watch after one event."""
    match event:
        case PollCalled() | PollAnswered() | PollClosed():
            return replace(watch, polls=_polled(watch.polls, event, logged))
        case RoundAnswered():
            return _made(watch, event, logged)
        case ReadingTaken(supply, person, value, anew):
            reading = Reading(logged.at_s, logged.seq, value, anew)
            return replace(watch, readings=_entered(watch.readings, supply, person, reading))
        case ToolMoved(tool, how, person, where, reason):
            place = ToolPlace(how, logged.at_s, logged.seq, person, where, reason, logged.by)
            return replace(watch, tools={**watch.tools, tool: place})
        case FlagRaised(text, step, person):
            flag = Flag(logged.seq, logged.at_s, logged.by, text, step, person)
            return replace(watch, flags={**watch.flags, flag.seq: flag})
        case FlagCleared(flag_seq):
            return replace(watch, flags=_without(watch.flags, flag_seq))
        case EntryStruck(entry):
            return _struck(watch, entry)


def _polled(
    polls: Mapping[str, Poll], event: PollCalled | PollAnswered | PollClosed, logged: Logged
) -> dict[str, Poll]:
    if isinstance(event, PollCalled):
        return {**polls, event.poll: Poll(event.poll, event.question, event.who, logged.at_s, logged.by)}
    poll = polls.get(event.poll)
    if poll is None:  # A past moment may have an answer without the call, which was entered with a later time.
        return dict(polls)
    if isinstance(event, PollAnswered):
        answer = Answer(event.go, logged.at_s, event.reason, logged.by, event.heard)
        return {**polls, poll.id: replace(poll, answers={**poll.answers, event.person: answer})}
    if event.reason == ALL_GO and poll.missing:  # A past moment before the last go: that it closed lies ahead of it.
        return dict(polls)
    # The go that closed it may have been heard late; the poll was closed when the last of them was given.
    closed_s = max([logged.at_s, *(answer.at_s for answer in poll.answers.values())])
    return {**polls, poll.id: replace(poll, closed_s=closed_s, closed_because=event.reason)}


def _made(watch: Watch, event: RoundAnswered, logged: Logged) -> Watch:
    made = Made(logged.at_s, logged.seq, event.good, event.answer, logged.by, event.heard)
    flags = watch.flags
    if not event.good:
        flag = Flag(logged.seq, logged.at_s, logged.by, event.answer, None, event.person, event.round)
        flags = {**flags, flag.seq: flag}
    return replace(watch, rounds=_entered(watch.rounds, event.round, event.person, made), flags=flags)


Entry = TypeVar("Entry", bound=Made | Reading)


def _entered(
    held: Mapping[str, Mapping[Who, tuple[Entry, ...]]], name: str, person: Designator | None, new: Entry
) -> dict[str, Mapping[Who, tuple[Entry, ...]]]:
    """With a new entry at its place in time: one that was heard late stands before later ones."""
    who = person or ""
    people = dict(held.get(name, {}))
    entries: list[Entry] = [*people.get(who, ()), new]
    entries.sort(key=_when)
    people[who] = tuple(entries)
    return {**held, name: people}


def _when(entry: Made | Reading) -> tuple[int, int]:
    return entry.at_s, entry.seq


def _struck(watch: Watch, entry: int) -> Watch:
    return replace(
        watch,
        rounds=_without_entry(watch.rounds, entry),
        readings=_without_entry(watch.readings, entry),
        flags=_without(watch.flags, entry),
    )


def _without_entry(
    held: Mapping[str, Mapping[Who, tuple[Entry, ...]]], entry: int
) -> dict[str, Mapping[Who, tuple[Entry, ...]]]:
    return {
        name: {who: tuple(each for each in entries if each.seq != entry) for who, entries in people.items()}
        for name, people in held.items()
    }


def _without(held: Mapping[int, T], key: int) -> dict[int, T]:
    return {other: each for other, each in held.items() if other != key}
