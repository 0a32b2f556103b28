"""The Log: every event of a run in words, newest first, and what carries over."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from app.core.carry import carried_over
from app.core.events import (
    Event,
    GoGiven,
    Logged,
    NoGoGiven,
    NoteAdded,
    StartRecorded,
    StepMarked,
    StepNotNeeded,
    StepReopened,
    kind_of,
)
from app.core.events_progress import (
    ActionsDone,
    ActionsTakenBack,
    CompletionCalled,
    MarkCorrected,
    StepConfirmed,
    WarningAcknowledged,
)
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
from app.core.flagging import counting_entries
from app.core.handover import is_decision
from app.core.heads import head_of
from app.core.procedure import StepId
from app.core.situation import Situation
from app.core.times import clock, duration, instant
from app.web.views.desk import NewKey
from app.web.views.step_progress import Reading, typed_readings
from app.web.views.told import Teller

LATE_S = 30
"""An entry that reached the server this long after it happened is shown as late. Our own bound, no source."""
LONGEST_FIND = 200

GROUPS: Mapping[str, str] = {
    "marks": "Marks",
    "answers": "Answers and polls",
    "decisions": "Decisions",
    "readings": "Rounds and readings",
    "tools": "Tools",
    "notes": "Notes and flags",
}
"""Kinds of entries that can be looked for, and their names. An entry may be of several, or of none."""

_OF_GROUP: Mapping[str, tuple[type[Event], ...]] = {
    "marks": (
        StepMarked,
        StepReopened,
        StartRecorded,
        StepNotNeeded,
        ActionsDone,
        ActionsTakenBack,
        CompletionCalled,
        StepConfirmed,
        MarkCorrected,
    ),
    "answers": (GoGiven, NoGoGiven, WarningAcknowledged, StepConfirmed, PollCalled, PollAnswered, PollClosed),
    "readings": (RoundAnswered, ReadingTaken, EntryStruck),
    "tools": (ToolMoved,),
    "notes": (NoteAdded, FlagRaised, FlagCleared, ShiftHandedOver),
}


@dataclass(frozen=True, slots=True)
class Search:
    """What the log is looked through for: all words of `find`, and any of the `groups`; all entries without them."""

    find: str = ""
    groups: tuple[str, ...] = ()

    @classmethod
    def asked(cls, find: str, groups: Sequence[str]) -> "Search":
        """As it came in an address or a form; what is unknown is left out."""
        return cls(find.strip()[:LONGEST_FIND], tuple(group for group in GROUPS if group in groups))

    @property
    def query(self) -> str:
        """The end of the Log's address that asks for this again; empty when nothing is looked for."""
        asked = [("find", self.find)] * bool(self.find) + [("only", group) for group in self.groups]
        return f"?{urlencode(asked)}" * bool(asked)

    def takes(self, logged: Logged) -> bool:
        return not self.groups or any(_is_of(logged.event, group) for group in self.groups)


def _is_of(event: Event, group: str) -> bool:
    return is_decision(event) if group == "decisions" else isinstance(event, _OF_GROUP[group])


@dataclass(frozen=True, slots=True)
class Correction:
    """A mark that holds: its step, its time and its values, to be corrected from the log."""

    step: StepId
    at: str
    readings: tuple[Reading, ...]
    key: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One event. `late` says how much later it was entered; `reopen` names the step that can be reopened from here.

    `strike`: it is a reading or an answer at a round that counts. Keys are new for each of its forms.
    """

    seq: int
    at: str
    late: str
    utc: str
    text: str
    kind: str
    by: str
    station: str
    reopen: StepId | None
    correct: Correction | None
    strike: bool
    key: str
    key_strike: str


@dataclass(frozen=True, slots=True)
class Group:
    name: str
    label: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class Carried:
    title: str
    id: str
    steps: tuple[str, ...]
    why: str


@dataclass(frozen=True, slots=True)
class LogPage:
    """`hits` says how many of all entries are shown; empty when nothing is looked for."""

    entries: tuple[Entry, ...]
    carried: tuple[Carried, ...]
    over: bool
    find: str
    groups: tuple[Group, ...]
    hits: str
    head: str


def log_page(
    situation: Situation, events: Sequence[Logged], new_key: NewKey, search: Search, head: str | None = None
) -> LogPage:
    """`head`: of the whole log, where `events` are not all of it."""
    teller = Teller(situation.procedure, events)
    entries = _found(situation, events, new_key, search, teller)
    looked = bool(search.find or search.groups)
    return LogPage(
        entries=entries,
        carried=_carried(situation),
        over=situation.state.ended_s is not None,
        find=search.find,
        groups=tuple(Group(name, label, name in search.groups) for name, label in GROUPS.items()),
        hits=f"{len(entries)} of {len(events)} entries" if looked else "",
        head=head_of(events) if head is None else head,
    )


def _found(
    situation: Situation, events: Sequence[Logged], new_key: NewKey, search: Search, teller: Teller
) -> tuple[Entry, ...]:
    words = search.find.casefold().split()
    counting = counting_entries(situation) if situation.state.ended_s is None else frozenset[int]()
    found = []
    for logged in reversed(events):
        if search.takes(logged):
            text = teller.sentence(logged)
            if not words or _has(words, logged, text):
                found.append(_entry(situation, logged, text, logged.seq in counting, new_key))
    return tuple(found)


def _has(words: Sequence[str], logged: Logged, text: str) -> bool:
    """Whether every word stands somewhere in the entry, in large or small letters."""
    searched = f"{clock(logged.at_s)} {text} {logged.by} {logged.station} {kind_of(logged.event)}".casefold()
    return all(word in searched for word in words)


def _entry(situation: Situation, logged: Logged, text: str, strike: bool, new_key: NewKey) -> Entry:
    late_s = logged.logged_s - logged.at_s
    return Entry(
        seq=logged.seq,
        at=clock(logged.at_s),
        late=f"entered {duration(late_s)} later" if late_s >= LATE_S else "",
        utc=instant(logged.logged_at)[:19].replace("T", " ") + " UTC",
        text=text,
        kind=kind_of(logged.event),
        by=logged.by,
        station=logged.station,
        reopen=_reopenable(situation, logged),
        correct=_correctable(situation, logged, new_key),
        strike=strike,
        key=new_key(),
        key_strike=new_key(),
    )


def _reopenable(situation: Situation, logged: Logged) -> StepId | None:
    """The step that this event closed, while it is the event that holds it closed and the run goes on."""
    state = situation.state
    if state.ended_s is not None:
        return None
    match logged.event:
        case StepMarked(step) if step in state.done and state.done[step].seq == logged.seq:
            return step
        case StepNotNeeded(step) if step in state.not_needed:
            return step
        case _:
            return None


def _correctable(situation: Situation, logged: Logged, new_key: NewKey) -> Correction | None:
    """The mark that this event made, while it holds and the run goes on."""
    step = _reopenable(situation, logged)
    mark = situation.state.done.get(step) if step else None
    if step is None or mark is None:
        return None
    return Correction(step, clock(mark.at_s), typed_readings(situation.step(step), mark.values), new_key())


def _carried(situation: Situation) -> tuple[Carried, ...]:
    state = situation.state
    rows = []
    for task in carried_over(situation.procedure, state):
        why = "put off: " + state.put_off[task.id] if task.id in state.put_off else "not finished"
        if task.id not in state.put_off and not state.begun(task.id):
            why = "not begun"
        rows.append(Carried(task.title, task.id, tuple(step.do for step in task.steps), why))
    return tuple(rows)
