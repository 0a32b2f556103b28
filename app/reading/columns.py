"""The columns of the flat table that holds a whole procedure: what each means in which row. It reads nothing."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from app.core.procedure import Designator

KINDS: Mapping[str, str] = {
    "procedure": "The procedure itself; there is one such row.",
    "crew": "A person, or a console, that holds a step list.",
    "window": "When some steps can be done.",
    "supply": "Something that runs out.",
    "round": "A check that comes back every so often.",
    "tool": "A tool at hand.",
    "task": "A block of steps that follow one another.",
    "step": "One step. Steps follow one another in the order of their rows.",
}
"""What the column `row` may say. The order of rows of one kind is the order of the file."""

ROW = "row"
REMARK = "#"
"""A row that begins with this sign is a remark and is not read."""

NOBODY: Designator = "(nobody)"
"""In `who` of a step: nobody does it, whoever its task has. No designator may begin with a bracket."""

MOST_ROWS = 10_000
MOST_FIELDS = 200
"""To a table, and to a row of it. Our own bounds, no source."""

LONGEST_CELL = 32_767
"""The most characters that a cell of a spreadsheet takes (Excel specifications and limits)."""


class Notation(Enum):
    """How a cell says its value; the text is for people."""

    TEXT = "a text"
    NAME = "a name: letters, digits, - _ and . with no blanks"
    NAMES = "names, divided by semicolons: EV1; EV2"
    ITEMS = "texts, divided by semicolons; one that holds a semicolon stands in double quotes"
    LINKS = "tasks or steps, divided by semicolons, a wait after a plus sign: isolate; prove/1 + 5 min"
    CLOCK = "an elapsed time, h:mm or h:mm:ss"
    DURATION = "a duration with its unit: 8 min, 1 h 30 min, 45 s"
    POINTS = "a duration, or optimistic, likely and pessimistic ones: 6 min | 8 min | 14 min"
    SPREAD = "three factors: 0.8 | 1 | 1.6"
    OPENINGS = "openings, divided by semicolons: 0:10..1:05; 1:42..2:37"
    RECORD = "values with unit and tolerance, divided by semicolons: gap left [mm] 2..6; turns [turn]"
    FLAG = "true or false"
    INTEGER = "a whole number"
    NUMBER = "a number with a decimal point"


@dataclass(frozen=True, slots=True)
class Column:
    """One column. `meaning` says by kind of row what it holds there; in all other rows it is empty."""

    name: str
    notation: Notation
    meaning: Mapping[str, str]
    required: frozenset[str] = frozenset()


def _column(name: str, notation: Notation, required: str = "", **meaning: str) -> Column:
    return Column(name, notation, meaning, frozenset(required.split()))


COLUMNS: tuple[Column, ...] = (
    Column(ROW, Notation.NAME, dict.fromkeys(KINDS, "what the row is"), frozenset(KINDS)),
    _column(
        "name",
        Notation.TEXT,
        "procedure crew window supply round tool task",
        procedure="the short name of the procedure",
        crew="the designator",
        window="its name",
        supply="its name",
        round="its name",
        tool="its name",
        task="the task's id, by which others refer to it",
        step="the id of its task; empty for the task of the row above",
    ),
    _column(
        "text",
        Notation.TEXT,
        "procedure round step",
        procedure="its title",
        crew="what they do",
        round="the question that is put",
        task="its title; the id if there is none",
        step="what to do",
    ),
    _column(
        "who",
        Notation.NAMES,
        supply="who carries it",
        round="who is asked",
        task="who does it; empty for a pure wait",
        step=f"who does it, if not the task's people; {NOBODY} for nobody",
    ),
    _column("takes", Notation.POINTS, "step", step="how long it takes"),
    _column("after", Notation.LINKS, task="what must be done before its first step", step="what must be done first"),
    _column("not_before", Notation.CLOCK, task="earliest start of its first step", step="earliest start"),
    _column("within", Notation.TEXT, task="the window of each of its steps", step="its window, if not the task's"),
    _column("where", Notation.TEXT, task="where it is done"),
    _column("needs", Notation.ITEMS, task="the tools that it needs"),
    _column("get_ahead", Notation.FLAG, task="true if it is optional, outside the plan"),
    _column("may_put_off", Notation.FLAG, task="true if it may be put off"),
    _column("worth", Notation.INTEGER, task="1 to 9, of a task that may be put off"),
    _column("warning", Notation.TEXT, step="a danger to people, shown before the step"),
    _column("caution", Notation.TEXT, step="a danger to equipment, shown before the step"),
    _column("note", Notation.TEXT, step="a note, shown before the step"),
    _column("hold", Notation.NAMES, step="who must be go before it is complete"),
    _column("record", Notation.RECORD, step="the values to record"),
    _column("count", Notation.INTEGER, step="how many like actions it has, marked one by one"),
    _column("confirm_by", Notation.NAME, step="the second person who confirms it"),
    _column("openings", Notation.OPENINGS, "window", window="when it opens and closes"),
    _column("unit", Notation.TEXT, "supply", supply="what it is measured in"),
    _column("reserve", Notation.NUMBER, "supply", supply="the reading at which it must no longer be used"),
    _column("every", Notation.DURATION, "round", round="how much time lies between two"),
    _column("about", Notation.TEXT, procedure="what it is for, in a sentence or two"),
    _column("zero", Notation.TEXT, procedure="what starts the clock"),
    _column("finish", Notation.CLOCK, procedure="the hard limit"),
    _column("close_out", Notation.NAME, procedure="the task that must always still fit before the limit"),
    _column("least_lead", Notation.DURATION, procedure="get-ahead items are offered from this lead on; 0 s if empty"),
    _column(
        "on_plan_within", Notation.DURATION, procedure="a lead of at most this either way is on plan; 1 min if empty"
    ),
    _column(
        "spread",
        Notation.SPREAD,
        procedure="factors for steps with one duration: optimistic, likely, pessimistic; 0.8 | 1 | 1.6 if empty",
    ),
)
"""In the order in which they are written; a file may have them in any order, and leave out what it does not use."""

NAMES = tuple(column.name for column in COLUMNS)
BY_NAME: Mapping[str, Column] = {column.name: column for column in COLUMNS}
