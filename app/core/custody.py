"""Where each tool is, what a task's needs come to, and orders about tools. Each order returns events or refuses.

Every tool that went out is accounted for before the hatch is shut: common practice, no source.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from app.core.commands import Refusal, joined, said, said_or_nothing
from app.core.commands_live import MoveTool
from app.core.events import Event
from app.core.events_watch import TOOL_WAYS, ToolMoved
from app.core.procedure import Designator, Task, TaskId
from app.core.signs import shown
from app.core.situation import Situation
from app.core.times import clock
from app.core.watch import ToolPlace

HELD = ("taken", "handed", "found")
"""After these a person has the tool."""
ACCOUNTED = ("stowed", "left outside")
"""After these nobody looks for it any more."""
LONGEST_PLACE = 200
"""Characters. Our own bound, no source."""


@dataclass(frozen=True, slots=True)
class NeedWords:
    """A tool that a task needs: where it is in words, with what to do where it is not at hand there."""

    tool: str
    words: str
    at_hand: bool


def place_of(situation: Situation, tool: str) -> ToolPlace | None:
    """Where the tool is now; None while this run has no record of it."""
    return situation.state.watch.tools.get(tool)


def place_words(place: ToolPlace | None) -> str:
    """``EV1 has it since 00:12:30``, ``left at bay 4 left by EV2, 01:10:00``, ``LOST 01:20:00: drifted off``."""
    if place is None:
        return "no record: never taken out"
    when, where = clock(place.at_s), f" at {place.where}" if place.where else ""
    by = f" by {place.person}" if place.person else ""
    why = f": {place.reason}" if place.reason else ""
    match place.how:
        case "left":
            return f"left{where}{by}, {when}{why}"
        case "stowed":
            return f"stowed{where}{by}, {when}"
        case "lost":
            return f"LOST {when}{f', {place.person} had it' if place.person else ''}{where}{why}"
        case "left outside":
            return f"left outside for good{where}, {when}{why}"
        case _:
            return f"{place.person} has it since {when}"


def needs_words(situation: Situation, task: TaskId) -> tuple[NeedWords, ...]:
    """Each tool that the task needs, in file order.

    At hand is a tool of which this run has no record, which one of the task's people has, or which was left where the
    task is done.
    """
    wanted = situation.procedure.task(task)
    return tuple(_need(place_of(situation, tool), tool, wanted) for tool in wanted.needs)


def missing_tools(situation: Situation, task: TaskId) -> tuple[NeedWords, ...]:
    """The tools that the task needs and that are not at hand there."""
    return tuple(need for need in needs_words(situation, task) if not need.at_hand)


def _need(place: ToolPlace | None, tool: str, task: Task) -> NeedWords:
    if place is None or _is_there(place, task):
        return NeedWords(tool, place_words(place), True)
    if place.how in HELD:
        return NeedWords(tool, f"{place.person} has it; hand it over first", False)
    return NeedWords(tool, f"{place_words(place)}{_REMEDY.get(place.how, '')}", False)


_REMEDY = {"left": "; fetch it first", "stowed": "; take it out first"}


def _is_there(place: ToolPlace, task: Task) -> bool:
    if place.how in HELD:
        return place.person in task.people
    return place.how == "left" and bool(task.where.strip()) and _plain(place.where) == _plain(task.where)


def _plain(place: str) -> str:
    """A place's name by which two entries of it are told to be the same."""
    return " ".join(place.casefold().split())


# Close-out


def is_closing(situation: Situation, person: Designator | None = None) -> bool:
    """Whether close-out is under way, or one of its people has come to it; without such a task, nothing is left to do.

    With `person`, only where it is theirs.
    """
    close_out = situation.procedure.limits.close_out
    if close_out is None:
        return not any(situation.is_open(number) for number in range(len(situation.network.steps)))
    people = situation.procedure.task(close_out).people
    if person is not None and person not in people:
        return False
    return situation.begun(close_out) or any(_is_at(situation, each, close_out) for each in people)


def _is_at(situation: Situation, person: Designator, task: TaskId) -> bool:
    step = situation.person(person).next
    return step is not None and situation.step(step).task == task


def not_back(situation: Situation) -> Iterator[tuple[str, ToolPlace]]:
    """The tools that are neither stowed nor left outside for good, in file order.

    One without a record was never taken out, and counts as stowed.
    """
    for tool in situation.procedure.tools:
        place = place_of(situation, tool)
        if place is not None and place.how not in ACCOUNTED:
            yield tool, place


def not_back_words(situation: Situation) -> tuple[str, ...]:
    """``torque driver (EV2 has it since 00:12:30)`` for each that is not back."""
    return tuple(f"{tool} ({place_words(place)})" for tool, place in not_back(situation))


def all_accounted_for(situation: Situation) -> None:
    """Raises Refusal, with the names of the tools that are neither stowed nor left outside with a reason."""
    out = not_back_words(situation)
    if out:
        it = "it" if len(out) == 1 else "each"
        remedy = f"Stow {it}, or say why it is left outside for good; then the run can end."
        raise Refusal("tools-out", f"Not back: {joined(out)}. {remedy}")


# Moves


def move(situation: Situation, command: MoveTool, at_s: int) -> tuple[Event, ...]:
    """Raises Refusal."""
    _known(situation, command)
    tool, how, place = command.tool, command.how, place_of(situation, command.tool)
    if place is not None and at_s < place.at_s:
        sentence = f"{tool}: {place_words(place)}. What came before that can't be entered any more."
        raise Refusal("before-entry", sentence)
    _complete(command)
    _may(command, place)
    reason = said(command.reason, _WHY[how]) if how in _WHY else said_or_nothing(command.reason)
    where = shown(command.where).strip()
    return (ToolMoved(tool, how, command.person or _holder(place), where, reason),)


_WHY = {
    "lost": "Say how it was lost, or where it was seen last.",
    "left outside": "Say why it is left outside for good.",
}


def _known(situation: Situation, command: MoveTool) -> None:
    tools, crew = situation.procedure.tools, situation.network.crew
    if command.tool not in tools:
        has = f"it has {joined(tools)}" if tools else "it names none"
        raise Refusal("unknown", f"This procedure has no tool “{command.tool[:60]}”; {has}.")
    if command.how not in TOOL_WAYS:
        raise Refusal("unknown", f"A tool is {', '.join(TOOL_WAYS)}, not “{command.how[:60]}”.")
    if command.person is not None and command.person not in crew:
        raise Refusal("unknown", f"Nobody of this run is called “{command.person[:60]}”; its crew is {joined(crew)}.")


def _complete(command: MoveTool) -> None:
    if command.how in HELD and command.person is None:
        raise Refusal("incomplete", f"Say who has {command.tool}.")
    if command.how == "left" and not shown(command.where).strip():
        raise Refusal("incomplete", f"Say where {command.tool} was left.")
    if len(command.where.strip()) > LONGEST_PLACE:
        raise Refusal("too-long", f"Name the place in at most {LONGEST_PLACE} characters.")


def _may(command: MoveTool, place: ToolPlace | None) -> None:
    """Whether a tool that is there can move so."""
    tool, how = command.tool, command.how
    now = "none" if place is None else "held" if place.how in HELD else place.how
    if place is not None and now == "held" and how in HELD and place.person == command.person:
        raise Refusal("has-it", f"{command.person} has {tool} already, since {clock(place.at_s)}.")
    if now in _NOT_FROM[how]:
        remedy = _INSTEAD.get((how, now), "")
        raise Refusal("not-there", f"{tool} can't be {how}: {place_words(place)}.{remedy}")


_NOT_FROM = {
    "taken": ("lost",),
    "handed": ("none", "left", "stowed", "lost", "left outside"),
    "left": ("lost", "left outside"),
    "stowed": ("stowed",),
    "lost": ("none", "stowed", "lost", "left outside"),
    "found": ("none", "held", "stowed"),
    "left outside": ("none", "stowed", "left outside"),
}
"""From where a tool can't move so. Of the rest, what happened without a word in between is taken as it is told."""

_TOOK, _FOUND, _TAKEN, _HANDED = (
    " Enter first who took it out.",
    " Enter first who found it.",
    " Enter it as taken.",
    " Enter it as handed over.",
)
_INSTEAD = {
    ("taken", "lost"): " If it turned up, enter it as found.",
    ("handed", "none"): _TAKEN,
    ("handed", "left"): _TAKEN,
    ("handed", "stowed"): _TAKEN,
    ("handed", "lost"): " If it turned up, enter it as found.",
    ("handed", "left outside"): _TAKEN,
    ("left", "lost"): _FOUND,
    ("left", "left outside"): _TOOK,
    ("lost", "none"): _TOOK,
    ("lost", "stowed"): _TOOK,
    ("lost", "left outside"): _TOOK,
    ("found", "none"): _TAKEN,
    ("found", "held"): _HANDED,
    ("found", "stowed"): _TAKEN,
    ("left outside", "none"): _TOOK,
    ("left outside", "stowed"): _TOOK,
}


def _holder(place: ToolPlace | None) -> str | None:
    """Who left, stowed or lost it, where nobody was named: whoever had it."""
    return place.person if place is not None and place.how in HELD else None
