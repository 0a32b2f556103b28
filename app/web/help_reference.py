"""What the help pages take from the tool itself: columns, rights, events, faults as the reader tells them.

It serves nothing. What is printed from here can't say anything else than the code does.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path
from textwrap import dedent

from app.core.events import KINDS as EVENTS
from app.reading.columns import COLUMNS, KINDS, Column
from app.reading.procedure_reader import read_procedure
from app.web.access import ADDRESSES

FIRST = """\
procedure: filter-change            # its short name: no blanks
title: Change the air filter of hut 2
zero: Both are at the hut door      # what starts the clock
crew:
  EV1: {does: "Outside, at the filter box"}
  EV2: {does: "Outside, at the tool sled"}
tasks:
  - task: open-box
    title: Open the filter box
    who: EV1
    steps:
      - {do: Undo the four latches, takes: 4 min}
      - {do: Swing the lid up and tie it, takes: 3 min}
  - task: fetch
    title: Fetch the new filter
    who: EV2
    steps:
      - {do: Take the filter from the sled, takes: [5 min, 6 min, 10 min]}
  - task: swap
    title: Swap the filter
    who: [EV1, EV2]
    after: [open-box, fetch]
    steps:
      - {do: Lift the old one out and the new one in, takes: 6 min}
"""
"""The planner's first file. Invented."""


@dataclass(frozen=True, slots=True)
class Slip:
    """A slip in FIRST: what was written in place of what, what to do, and `told`, the reader's own words for it."""

    title: str
    meant: str
    written: str
    advice: str
    told: tuple[str, ...] = ()

    @property
    def shown(self) -> str:
        """What was written, without the blanks that all of its lines begin with."""
        return dedent(self.written).strip()


SLIPS = (
    Slip(
        "A duration without a unit",
        "takes: 4 min",
        "takes: 4",
        "A bare number does not say whether it is seconds or minutes, so it is never guessed. Write the unit.",
    ),
    Slip(
        "A person whom the crew does not have",
        "who: EV2\n",
        "who: EV3\n",
        "Names are compared letter by letter. Correct the name, or add the person to the crew.",
    ),
    Slip(
        "A field under another name",
        "    title: Fetch the new filter",
        "    titel: Fetch the new filter",
        "What is not known is refused and not passed over, so that a misspelt caution can't get lost.",
    ),
    Slip(
        "A step that is left without its duration",
        "{do: Swing the lid up and tie it, takes: 3 min}",
        "{do: Swing the lid up and tie it}",
        "Every step needs a duration, if only a rough one: the plan is made of them.",
    ),
    Slip(
        "Two tasks that wait for each other",
        "    who: EV2\n    steps:",
        "    who: EV2\n    after: [swap]\n    steps:",
        "Go once round in your head: one of them has to be first. Take out the wait that is not one.",
    ),
    Slip(
        "A comma inside braces",
        "{do: Undo the four latches, takes: 4 min}",
        "{do: Undo the latches, all four, takes: 4 min}",
        "Inside braces a comma ends the text. This is a remark and no fault: it is read as it was meant. Quotation "
        "marks round the text make it certain.",
    ),
)


def wrong(slip: Slip) -> str:
    """FIRST with the slip in it."""
    return FIRST.replace(slip.meant, slip.written, 1)


def _told(slip: Slip) -> tuple[str, ...]:
    kinds = {True: "remark", False: "fault"}
    return tuple(
        f"filter-change.yaml:{fault.line}:{fault.column}: {kinds[fault.remark]}: {fault.what}. {fault.remedy}."
        for fault in read_procedure(wrong(slip)).faults
    )


@dataclass(frozen=True, slots=True)
class ColumnRow:
    """A column of the table: how it is written, in which rows it must be filled, and what it means by kind of row."""

    name: str
    notation: str
    required: tuple[str, ...]
    meanings: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Reference:
    """What the pages print.

    `events`: the fields of each kind's body. `pictures`: width and height of each screenshot, in pixels of the page.
    """

    first: str
    slips: tuple[Slip, ...]
    kinds: tuple[tuple[str, str], ...]
    columns: tuple[ColumnRow, ...]
    addresses: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    events: Mapping[str, tuple[str, ...]]
    pictures: Mapping[str, tuple[int, int]]


@cache
def reference(static: Path) -> Reference:
    """All of it, made when the first page of help is asked for. `static`: the folder of static files."""
    return Reference(
        FIRST,
        tuple(Slip(each.title, each.meant, each.written, each.advice, _told(each)) for each in SLIPS),
        tuple(KINDS.items()),
        tuple(_row(column) for column in COLUMNS),
        tuple((right, tuple((methods, path) for path, methods in rows.items())) for right, rows in ADDRESSES.items()),
        {kind: tuple(field.name for field in fields(event)) for kind, event in EVENTS.items()},
        sizes(static),
    )


def sizes(static: Path) -> dict[str, tuple[int, int]]:
    """Width and height of each picture that was made, by name; none where none was."""
    told = static / "help" / "pictures.json"
    if not told.exists():
        return {}
    found: dict[str, list[int]] = json.loads(told.read_text("utf-8"))["sizes"]
    return {name: (width, height) for name, (width, height) in found.items()}


def _row(column: Column) -> ColumnRow:
    by_meaning: dict[str, list[str]] = {}
    for kind, meaning in column.meaning.items():
        by_meaning.setdefault(meaning, []).append(kind)
    meanings = tuple((", ".join(kinds), meaning) for meaning, kinds in by_meaning.items())
    required = tuple(kind for kind in column.meaning if kind in column.required)
    if len(required) == len(KINDS):
        required, meanings = ("every row",), (("every row", meanings[0][1]),)
    return ColumnRow(column.name, column.notation.value, required, meanings)
