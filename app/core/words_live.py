"""What happened beside marks and planning, as sentences for the log. Like `words`, it computes nothing."""

from collections.abc import Callable
from typing import assert_never

from app.core.events_progress import (
    ActionsDone,
    ActionsTakenBack,
    CompletionCalled,
    MarkCorrected,
    StepConfirmed,
    ValuesAccepted,
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
from app.core.procedure import Procedure, Step, StepId
from app.core.progress import ProgressEvent
from app.core.times import clock
from app.core.watch import WatchEvent

StepWords = Callable[[Procedure, StepId], str]
"""How a step is named: `words.step_words`, which is handed in so that the two modules need not import each other."""


def heard_words(heard: bool) -> str:
    return " (heard on the loop)" if heard else ""


def progress_sentence(event: ProgressEvent | MarkCorrected, procedure: Procedure, named: StepWords) -> str:
    """One line of the log about a step on its way to being done."""
    step, about = named(procedure, event.step), procedure.step(event.step)
    match event:
        case WarningAcknowledged(_, person, heard):
            return f"{person} acknowledges the warning of {step}{heard_words(heard)}"
        case ActionsDone(_, first, last):
            which = f"{last}" if first == last else f"{first} to {last}"
            return f"Done {which} of {about.count}: {step}"
        case ActionsTakenBack(_, left):
            return f"Count taken back to {left} of {about.count}: {step}"
        case CompletionCalled(_, values):
            return f"Called complete: {step}{reading_words(about, values)}{_missing_words(about, values)}"
        case ValuesAccepted(_, reason):
            return f"The lead accepts the values of {step}: {reason}"
        case StepConfirmed(_, person, heard):
            return f"{person} confirms {step}{heard_words(heard)}"
        case MarkCorrected():
            return f"Mark corrected: {step}, {_corrected_words(event, about)}. {event.reason}"
        case _:
            assert_never(event)


def _missing_words(step: Step, values: tuple[tuple[str, float], ...]) -> str:
    missing = ["the lead accepts the values"] if outside(step, values) else []
    if step.confirm_by:
        missing.append(f"{step.confirm_by} confirms")
    return f". It is done when {' and '.join(missing)}" if missing else ""


def _corrected_words(event: MarkCorrected, step: Step) -> str:
    """Old and new of whatever is different."""
    said = []
    if event.was_s != event.now_s:
        said.append(f"time {clock(event.now_s)}, was {clock(event.was_s)}")
    if event.values != event.values_were:
        before = reading_words(step, event.values_were).removeprefix(": ") or "no value"
        said.append(f"{reading_words(step, event.values).removeprefix(': ')}, was {before}")
    return "; ".join(said)


def outside(step: Step, values: tuple[tuple[str, float], ...]) -> tuple[str, ...]:
    """The names of the values that are out of tolerance."""
    asked = {value.name: value for value in step.record}
    return tuple(name for name, reading in values if name in asked and not asked[name].in_tolerance(reading))


def reading_words(step: Step, values: tuple[tuple[str, float], ...]) -> str:
    """``: gap left 4 mm, gap right 9 mm (OUT OF TOLERANCE)``; empty without values."""
    if not values:
        return ""
    out = outside(step, values)
    said = []
    for name, reading in values:
        said.append(f"{value_words(step, name, reading)}{' (OUT OF TOLERANCE)' if name in out else ''}")
    return ": " + ", ".join(said)


def value_words(step: Step, name: str, reading: float) -> str:
    """``gap left 4 mm``."""
    unit = next((f" {value.unit}" for value in step.record if value.name == name and value.unit), "")
    return f"{name} {reading:g}{unit}"


def watch_sentence(event: WatchEvent | ShiftHandedOver, procedure: Procedure, named: StepWords) -> str:
    """One line of the log about what is watched beside the steps."""
    match event:
        case PollCalled() | PollAnswered() | PollClosed():
            return _poll_sentence(event)
        case RoundAnswered(name, person, good, answer, heard):
            said = f": {answer}" if answer else ""
            return f"Round {name}{_of(person)}: {'good' if good else 'BAD'}{said}{heard_words(heard)}"
        case ReadingTaken(name, person, value, anew, heard):
            unit = next((f" {each.unit}" for each in procedure.supplies if each.name == name and each.unit), "")
            fresh = ", exchanged or filled" if anew else ""
            return f"Reading of {name}{_of(person)}: {value:g}{unit}{fresh}{heard_words(heard)}"
        case ToolMoved():
            return _tool_sentence(event)
        case FlagRaised(text, step, person):
            about = named(procedure, step) if step else person or "the run"
            return f"FLAG on {about}: {text}"
        case FlagCleared(flag, reason):
            return f"Flag of entry {flag} cleared: {reason}"
        case EntryStruck(entry, reason):
            return f"Entry {entry} struck out: {reason}"
        case ShiftHandedOver(to, text):
            return f"Shift handed over to {to}{f': {text}' if text else ''}"
        case _:
            assert_never(event)


def _of(person: str | None) -> str:
    return f", {person}" if person else ""


def _poll_sentence(event: PollCalled | PollAnswered | PollClosed) -> str:
    match event:
        case PollCalled(poll, question, who):
            return f"Poll called ({poll}): {question} Asked: {', '.join(who)}"
        case PollAnswered(poll, person, go, reason, heard):
            lifted = f"; lifts the no-go: {reason}" if go and reason else ""
            said = f"is go{lifted}" if go else f"is NO-GO: {reason}"
            return f"{person} {said} ({poll}){heard_words(heard)}"
        case PollClosed(poll, reason):
            return f"Poll closed ({poll}): {reason}"
        case _:
            assert_never(event)


def _tool_sentence(event: ToolMoved) -> str:
    who = event.person or "nobody named"
    where = f" at {event.where}" if event.where else ""
    why = f": {event.reason}" if event.reason else ""
    match event.how:
        case "taken":
            return f"Tool taken out: {event.tool}, {who} has it{why}"
        case "handed":
            return f"Tool handed over: {event.tool}, {who} has it{why}"
        case "left":
            return f"Tool left: {event.tool}{where}{f', by {event.person}' if event.person else ''}{why}"
        case "stowed":
            return f"Tool stowed: {event.tool}{where}{f', by {event.person}' if event.person else ''}{why}"
        case "found":
            return f"Tool found: {event.tool}, {who} has it{where}{why}"
        case "lost":
            return f"TOOL LOST: {event.tool}{f', {event.person} had it' if event.person else ''}{where}{why}"
        case _:
            return f"Tool left outside for good: {event.tool}{where}{why}"
