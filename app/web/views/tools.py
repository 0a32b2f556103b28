"""Tools: who has what, where it was left, what needs it, and what is not back. It moves nothing."""

from collections.abc import Iterator
from dataclasses import dataclass

from app.core.custody import ACCOUNTED, HELD, is_closing, needs_words, not_back, place_of, place_words
from app.core.events_watch import TOOL_WAYS
from app.core.procedure import Designator, TaskId
from app.core.situation import Situation
from app.core.watch import ToolPlace
from app.web.keys import NewKey

WAYS = {
    "taken": "taken out by",
    "handed": "handed to",
    "left": "left at a place",
    "stowed": "stowed",
    "found": "found, now with",
    "lost": "lost",
    "left outside": "left outside for good",
}
"""As the form says them: each begins with other letters, so that typing them chooses."""
MOVES_SHOWN = 3


@dataclass(frozen=True, slots=True)
class Move:
    """A press that is likely next."""

    how: str
    person: Designator
    label: str
    key: str


@dataclass(frozen=True, slots=True)
class Wanting:
    """An open task that needs the tool; `lack` says what keeps it from being at hand there, empty when it is."""

    task: str
    lack: str


@dataclass(frozen=True, slots=True)
class ToolRow:
    """`tone`: ``out``, ``lost`` or ``in``. `needed`: the open tasks that need it."""

    tool: str
    where: str
    tone: str
    needed: tuple[Wanting, ...]
    moves: tuple[Move, ...]


@dataclass(frozen=True, slots=True)
class Tools:
    """`rows`: every tool, or on one person's list those that they have (`own`) or still need. `out`: how many are out.

    `names`: every tool of the file.
    """

    rows: tuple[ToolRow, ...]
    names: tuple[str, ...]
    out: int
    own: tuple[str, ...]
    crew: tuple[Designator, ...]
    ways: tuple[tuple[str, str], ...]
    key: str


def tools(situation: Situation, person: Designator | None, new_key: NewKey) -> Tools:
    names = situation.procedure.tools
    own = tuple(tool for tool in names if person is not None and _has(situation, tool) == person)
    shown = [tool for tool in names if person is None or tool in own or _wanting(situation, tool, person)]
    return Tools(
        rows=tuple(_row(situation, tool, person, new_key) for tool in shown),
        names=names,
        out=sum(1 for _ in not_back(situation)),
        own=own,
        crew=situation.network.crew,
        ways=tuple((how, WAYS[how]) for how in sorted(TOOL_WAYS, key=list(WAYS).index)),
        key=new_key(),
    )


def _has(situation: Situation, tool: str) -> Designator | None:
    place = place_of(situation, tool)
    return place.person if place is not None and place.how in HELD else None


def _wanting(situation: Situation, tool: str, person: Designator | None) -> list[TaskId]:
    """The tasks with open steps that need the tool, in file order; of one person, only theirs."""
    found = dict.fromkeys(step.task for number, step in enumerate(situation.network.steps) if situation.is_open(number))
    tasks = [situation.procedure.task(task) for task in found]
    return [task.id for task in tasks if tool in task.needs and (person is None or person in task.people)]


def _row(situation: Situation, tool: str, person: Designator | None, new_key: NewKey) -> ToolRow:
    place = place_of(situation, tool)
    wanting = _wanting(situation, tool, person)
    tone = "in" if place is None or place.how in ACCOUNTED else "lost" if place.how == "lost" else "out"
    return ToolRow(
        tool=tool,
        where=place_words(place),
        tone=tone,
        needed=tuple(_need(situation, task, tool) for task in wanting),
        moves=tuple(_moves(situation, tool, person, new_key)),
    )


def _need(situation: Situation, task: TaskId, tool: str) -> Wanting:
    lacks = (need.words for need in needs_words(situation, task) if need.tool == tool and not need.at_hand)
    return Wanting(situation.procedure.task(task).title, next(lacks, ""))


def _moves(situation: Situation, tool: str, person: Designator | None, new_key: NewKey) -> Iterator[Move]:
    """Whoever needs it next may take it, find it or be handed it; what is out may be stowed."""
    place, holder = place_of(situation, tool), _has(situation, tool)
    if person is None or holder == person:
        wanting = _wanting(situation, tool, None)
        people = dict.fromkeys(who for task in wanting for who in situation.procedure.task(task).people)
    else:
        people = dict.fromkeys([person])
    how = "handed" if holder else "found" if place is not None and place.how == "lost" else "taken"
    for who in [who for who in people if who != holder][:MOVES_SHOWN]:
        yield Move(how, who, _label(how, who, is_own=who == person), new_key())
    if _may_stow(place) and (person is None or holder == person):
        yield Move("stowed", "", "Stow", new_key())


def _may_stow(place: ToolPlace | None) -> bool:
    return place is not None and place.how not in (*ACCOUNTED, "lost")


def _label(how: str, who: Designator, is_own: bool) -> str:
    if is_own:
        return {"handed": "Handed to me", "found": "I found it", "taken": "I take it"}[how]
    return {"handed": f"To {who}", "found": f"{who} found it", "taken": f"{who} takes it"}[how]


# Close-out


@dataclass(frozen=True, slots=True)
class Missing:
    """A tool that is not back: its number in the file, where it is, the keys of the three ways to account for it."""

    number: int
    tool: str
    words: str
    is_lost: bool
    key_stow: str
    key_found: str
    key_outside: str


@dataclass(frozen=True, slots=True)
class Back:
    """What is not back, shown from close-out on (`closing`). `never_out`: the tools without a record."""

    closing: bool
    missing: tuple[Missing, ...]
    never_out: tuple[str, ...]
    crew: tuple[Designator, ...]


def back(situation: Situation, person: Designator | None, new_key: NewKey) -> Back:
    names = situation.procedure.tools
    return Back(
        closing=bool(names) and situation.state.ended_s is None and is_closing(situation, person),
        missing=tuple(_missing(situation, tool, place, new_key) for tool, place in not_back(situation)),
        never_out=tuple(tool for tool in names if place_of(situation, tool) is None),
        crew=situation.network.crew,
    )


def _missing(situation: Situation, tool: str, place: ToolPlace, new_key: NewKey) -> Missing:
    return Missing(
        number=situation.procedure.tools.index(tool),
        tool=tool,
        words=place_words(place),
        is_lost=place.how == "lost",
        key_stow=new_key(),
        key_found=new_key(),
        key_outside=new_key(),
    )
