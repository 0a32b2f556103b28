"""The orders that can be given in a run, and the refusal of one. `decide` says what becomes of them."""

import re
from dataclasses import dataclass

from app.core.commands_live import LiveCommand
from app.core.commands_rehearsal import RehearsalCommand
from app.core.procedure import Designator, StepId, TaskId
from app.core.signs import shown
from app.core.times import TimeFault, read_clock, read_duration

_BACK = re.compile(r"[-−]\s*(.+)")
_SECONDS = re.compile(r"[0-9]{1,8}")

LONGEST_TEXT = 2_000
"""A reason or a note is a few sentences; more belongs in a report. Our own bound, no source."""


class Refusal(Exception):
    """An order that can't be carried out. ``str()`` is a sentence to act on.

    `code` names the kind for programs. `may_order` says that the lead may order it all the same, with a reason.
    """

    def __init__(self, code: str, sentence: str, may_order: bool = False) -> None:
        super().__init__(sentence)
        self.code = code
        self.may_order = may_order


@dataclass(frozen=True, slots=True)
class MarkStep:
    """Record that a step is complete, or call it complete where somebody else must answer first.

    Of a step of several actions, all that are left are done. `ordered_because`: the lead orders it against an open
    prerequisite, or without values that the step records.
    """

    step: StepId
    values: tuple[tuple[str, float], ...] = ()
    ordered_because: str | None = None


@dataclass(frozen=True, slots=True)
class UndoMark:
    """Take back a slip, a mark, a call or an action counted: only while it is the last press of its step's people."""

    step: StepId


@dataclass(frozen=True, slots=True)
class ReopenStep:
    step: StepId
    reason: str


@dataclass(frozen=True, slots=True)
class RecordStart:
    step: StepId


@dataclass(frozen=True, slots=True)
class AddNote:
    text: str
    step: StepId | None = None
    person: Designator | None = None


@dataclass(frozen=True, slots=True)
class GiveGo:
    """At a hold. `reason`: what lifts this person's no-go, if one stands. `heard`: said on the voice loop, and entered
    by somebody else than `person`.
    """

    step: StepId
    person: Designator
    reason: str = ""
    heard: bool = False


@dataclass(frozen=True, slots=True)
class GiveNoGo:
    step: StepId
    person: Designator
    reason: str
    heard: bool = False


@dataclass(frozen=True, slots=True)
class SetNotNeeded:
    step: StepId
    reason: str


@dataclass(frozen=True, slots=True)
class PutOff:
    """Take a task out of this run, and what depends on it."""

    task: TaskId
    reason: str


@dataclass(frozen=True, slots=True)
class PutBack:
    """Undo a putting off: the task takes its old place again, whatever that does to the lead."""

    task: TaskId
    reason: str


@dataclass(frozen=True, slots=True)
class TakeWork:
    """Put a get-ahead item, or put-off work, at its best place; only while it is eligible."""

    task: TaskId


@dataclass(frozen=True, slots=True)
class PutOffSet:
    """Take several tasks out of this run at once, and what depends on them: one event."""

    tasks: tuple[TaskId, ...]
    reason: str


@dataclass(frozen=True, slots=True)
class PutBackSet:
    """Undo a putting off of several tasks: each takes its old place again."""

    tasks: tuple[TaskId, ...]
    reason: str


@dataclass(frozen=True, slots=True)
class TakeSet:
    """Put several get-ahead items and put-off tasks where they fit best together; only while all of them do."""

    tasks: tuple[TaskId, ...]


@dataclass(frozen=True, slots=True)
class GiveBackWork:
    task: TaskId


@dataclass(frozen=True, slots=True)
class ReviseTakes:
    """From now on, count on an open step to take so many seconds in all. The plan stays as it is."""

    step: StepId
    takes_s: int
    reason: str


@dataclass(frozen=True, slots=True)
class ReorderTasks:
    """Put some of a person's unbegun tasks in this order, into the places that they hold in the list now."""

    person: Designator
    tasks: tuple[TaskId, ...]
    reason: str


@dataclass(frozen=True, slots=True)
class SwapTasks:
    """Let two unbegun tasks of a person change places."""

    person: Designator
    first: TaskId
    second: TaskId
    reason: str


@dataclass(frozen=True, slots=True)
class AddStep:
    """Add a step that the file does not have.

    It is put before the task `before` in the list of each of its people who has it; into other lists, and all of them
    where it is None, right after what that person has begun. `after` names (task, step number or None for all of it).
    """

    do: str
    who: tuple[Designator, ...]
    takes_s: int
    before: TaskId | None
    after: tuple[tuple[TaskId, int | None], ...]
    reason: str


@dataclass(frozen=True, slots=True)
class EndRun:
    reason: str


@dataclass(frozen=True, slots=True)
class MakeChanges:
    """Do what was tried: changes in words (see `changes`), each in the run that those before it lead to, or none."""

    said: tuple[str, ...]
    reason: str


Command = (
    MarkStep
    | UndoMark
    | ReopenStep
    | RecordStart
    | AddNote
    | GiveGo
    | GiveNoGo
    | SetNotNeeded
    | PutOff
    | PutBack
    | TakeWork
    | PutOffSet
    | PutBackSet
    | TakeSet
    | GiveBackWork
    | ReviseTakes
    | ReorderTasks
    | SwapTasks
    | AddStep
    | EndRun
    | MakeChanges
    | LiveCommand
    | RehearsalCommand
)


def said(text: str, otherwise: str) -> str:
    """The text of a reason or note, trimmed, without signs that would have others on its line misread.

    Raises:
        Refusal: it is empty (with the sentence `otherwise`) or longer than LONGEST_TEXT.
    """
    found = said_or_nothing(text)
    if not found:
        raise Refusal("no-reason", otherwise)
    return found


def said_or_nothing(text: str) -> str:
    """The same of a text that may be left out. Raises Refusal: it is longer than LONGEST_TEXT."""
    trimmed = shown(text).strip()
    if len(trimmed) > LONGEST_TEXT:
        raise Refusal("too-long", f"That is longer than {LONGEST_TEXT:,} characters; say it shorter.")
    return trimmed


def moment(said: str | int | None, now_s: int) -> int:
    """The elapsed second that an order is about.

    ``1:02:03``, or a number of whole seconds; ``-2 min`` counts back from now; nothing said is now. A text of digits
    alone is refused: it does not say its unit.

    Raises:
        Refusal: it is none of these.
    """
    if isinstance(said, int):
        return said
    text = (said or "").strip()
    if not text:
        return now_s
    try:
        if back := _BACK.fullmatch(text):
            return now_s - read_duration(back[1])
        return read_clock(text)
    except TimeFault as fault:
        raise Refusal("bad-time", f"{fault}: {fault.remedy}, or -2 min for two minutes ago.") from fault


def in_address(text: str) -> str | int:
    """A moment as a page's or the API's address says it: there, as in JSON, digits alone are whole seconds."""
    return int(text) if _SECONDS.fullmatch(text) else text


def joined(names: tuple[str, ...]) -> str:
    """``A``, ``A and B``, ``A, B and C``."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
