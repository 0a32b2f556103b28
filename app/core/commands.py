"""The orders that can be given in a run, and the refusal of one. `decide` says what becomes of them."""

import re
from dataclasses import dataclass

from app.core.procedure import Designator, StepId, TaskId
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
    """Record that a step is complete. `ordered_because`: the lead orders it against an open prerequisite."""

    step: StepId
    values: tuple[tuple[str, float], ...] = ()
    ordered_because: str | None = None


@dataclass(frozen=True, slots=True)
class UndoMark:
    """Take back a slip: only while the step is the last one marked of each of its people."""

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
    step: StepId
    person: Designator


@dataclass(frozen=True, slots=True)
class GiveNoGo:
    step: StepId
    person: Designator
    reason: str


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
class GiveBackWork:
    task: TaskId


@dataclass(frozen=True, slots=True)
class EndRun:
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
    | GiveBackWork
    | EndRun
)


def said(text: str, otherwise: str) -> str:
    """The text of a reason or note, trimmed.

    Raises:
        Refusal: it is empty (with the sentence `otherwise`) or longer than LONGEST_TEXT.
    """
    trimmed = text.strip()
    if not trimmed:
        raise Refusal("no-reason", otherwise)
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
