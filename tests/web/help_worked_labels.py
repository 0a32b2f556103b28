"""Which labels of the screens stand over a number, and which number of the help each leads to. No test of its own.

``python -m tests.web.help_worked_labels`` prints those that lead to none.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from app.web.help_number import Number
from app.web.help_words import ANY
from tests.web.help_labels import Node, tree
from tests.web.help_screens import Screen, screens

NAMES = {
    "list": "My list",
    "lead": "Lead board",
    "sheets": "On paper",
    "api": "API",
}
"""The screens that `Number.where` calls by another name than their own; the bar of every page is one more."""

PERSON = "(a person)"
"""A label that is the name of one of the crew."""

LEADS: Mapping[str, tuple[str, ...]] = {
    **dict.fromkeys(("Team, against plan", "Team", "Lead at the end", "Team then", "Lead there"), ("lead",)),
    **dict.fromkeys(("fig lead", "fig why-…"), ("lead",)),
    "fig lead-…": ("person-lead", "lead"),
    **dict.fromkeys(("Lead", PERSON, "fig s-…"), ("person-lead", "least-median-most")),
    **dict.fromkeys(("Finish", "Finish · plan …", "Finish, plan …", "Finish, projected"), ("finish", "plan-finish")),
    **dict.fromkeys(("Start", "About", "fig finish", "fig finish-…", "fig t-…"), ("finish", "plan-finish")),
    **dict.fromkeys(("Wins", "Then finish", "fig option-…-wins"), ("wins",)),
    **dict.fromkeys(("fig set-finish", "fig option-…-finish", "fig option-…-lead"), ("wins",)),
    **dict.fromkeys(("Finish after", "fig ends-…"), ("team-after",)),
    "Finish then": ("finish",),
    **dict.fromkeys(("Plan finish", "Planned", "Plan", "When"), ("plan-finish",)),
    **dict.fromkeys(("Room before …", "Room", "Room by plan", "Room then", "fig room"), ("room",)),
    **dict.fromkeys(("Turn back by", "fig turn-back"), ("turn-back",)),
    **dict.fromkeys(("Chance", "fig option-…-chance", "fig set-chance"), ("put-off-chance",)),
    **dict.fromkeys(("If so", "As it stands"), ("lead", "finish", "room", "chance")),
    **dict.fromkeys(("Own list finished", "fig spread", "fig spread-…"), ("spread",)),
    **dict.fromkeys(("Float", "fig float-…", "At the latest"), ("float", "plan-float")),
    **dict.fromkeys(("Worked: least, median, most", "Took: least, median, most"), ("least-median-most",)),
    "Against plan: least, median, most": ("least-median-most",),
    **dict.fromkeys(("Most", "Least"), ("most-least",)),
    **dict.fromkeys(("Against plan", "Against its plan"), ("against-plan",)),
    "Waited": ("hold-waited", "worked", "least-median-most"),
    "For whom, the longest first": ("hold-waited",),
    "Run …": ("worked", "against-plan"),
    "fig chance": ("chance",),
    "fig window-…": ("window-chance",),
    "fig timer-…": ("timer",),
    "fig round-…": ("due",),
    "fig supply-…": ("reserve",),
    "Worth lost": ("worth",),
    "Can win at most": ("gain",),
    "Lead won, lost": ("won-lost",),
    "Change": ("change",),
    "What it moved at once": ("moved",),
    "Worked": ("worked",),
    "Work by plan": ("work-by-plan",),
    "Took": ("took",),
    "Median": ("median",),
    "Ten to ninety": ("ten-to-ninety",),
    "To plan": ("to-plan",),
    "Next plan": ("proposed",),
}
"""The labels over a number, and the names of live figures, each with the numbers of the help it leads to."""

TIME = "a time of the clock or of the log, as it was entered"
FILE = "stands so in the procedure's file"
COUNT = "a count of what is listed on the page"
WORDS = "words in which a digit stands: a name, an entry, a step's id, a time of the log"
PLAIN: Mapping[str, str] = {
    **dict.fromkeys(("Elapsed", "fig elapsed-…", "So far, at", "Ended at", "Taken at", "Since"), TIME),
    **dict.fromkeys(("fig forecast-age", "Zero, UTC", "Reached", "Called", "Began", "Done", "Actual"), TIME),
    "Debrief: When": TIME,
    **dict.fromkeys(
        ("Limit", "Get-ahead from", "Takes", "Likely", "Every", "Reserve", "Open", "Supply", "Round"), FILE
    ),
    **dict.fromkeys(
        ("Round", "Value and tolerance", "Window …", "Crew", "Asks", "On paper: (a person)", "Phase"), FILE
    ),
    "Durations: Planned": FILE,
    **dict.fromkeys(("Steps done", "Decisions", "Steps", "Runs", "Runs: Finish", "State"), COUNT),
    **dict.fromkeys(("Where", "Next", "Still needed for", "Now", "Waiting", "For", "Put off", "Step", "Who"), WORDS),
    **dict.fromkeys(("What", "Item", "Then", "Simulated", "At now", "What the log says", "What was asked"), WORDS),
    **dict.fromkeys(("What was decided", "You need it for", "Needed for", "Revision", "Run"), WORDS),
    **dict.fromkeys(("As run, to keep", "Runs: Against plan"), WORDS),
}
"""What stands over a digit and is no number that Leadline works out, with the reason; ``Screen: label`` of one only."""


@dataclass(frozen=True, slots=True)
class Shown:
    """A label of a screen (as `Number.where` has it), or ``fig`` and the name of a live figure, with its text."""

    screen: str
    label: str
    text: str


def shown_on(page: Screen) -> Iterator[Shown]:
    """Every label of a page over a text that holds a digit: of lists, of tables by column, and live figures."""
    crew = {text.casefold() for text in page.data}
    for screen, label, text in _pairs(tree(page.page), _name(page)):
        if re.search("[0-9]", text) and re.search("[A-Za-z]", label):
            yield Shown(screen, PERSON if label.casefold() in crew else label, text)


def _name(page: Screen) -> str:
    """Replay shows the other screens as they were."""
    name = page.address.split("?")[0].split("/")[3] if page.name == "replay" else page.name
    return NAMES.get(name, name.capitalize())


def _pairs(root: Node, screen: str) -> Iterator[tuple[str, str, str]]:
    parts = [part for part in root.walk() if part.classes & {"bar", "turn-back"}]
    bar = {id(node) for part in parts for node in part.walk()}
    for node in root.walk():
        on = "Bar" if id(node) in bar else screen
        pairs = _of_list(node) if node.tag == "dl" else _of_table(node) if node.tag == "table" else ()
        yield from ((on, *pair) for pair in pairs)
        if "data-fig" in node.attributes:
            yield on, f"fig {node.attributes['data-fig']}", words_of(node)


def _of_list(listed: Node) -> Iterator[tuple[str, str]]:
    label = ""
    for node in listed.walk():
        if node.tag == "dt":
            label = node.words()
        elif node.tag == "dd":
            yield label, words_of(node)


def _of_table(table: Node) -> Iterator[tuple[str, str]]:
    rows = [[each for each in row.pieces if isinstance(each, Node)] for row in table.walk() if row.tag == "tr"]
    heads = [each.words() for row in rows for each in row if each.attributes.get("scope") == "col"]
    for row in rows:
        if len(row) == len(heads) and not any(each.attributes.get("scope") == "col" for each in row):
            yield from zip(heads, (words_of(each) for each in row), strict=True)


def words_of(node: Node) -> str:
    """All that is to be read in an element."""
    parts = [piece if isinstance(piece, str) else words_of(piece) for piece in node.pieces]
    return "" if node.tag in ("script", "style", "svg", "title") else " ".join(" ".join(parts).split())


def is_called(pattern: str, label: str) -> bool:
    return _compiled(pattern).fullmatch(label) is not None


@cache
def _compiled(pattern: str) -> re.Pattern[str]:
    return re.compile(".+".join(re.escape(part) for part in pattern.split(ANY)))


def numbers_of(one: Shown, numbers: Mapping[str, Number]) -> list[Number]:
    """The numbers that the label leads to: those that say that they stand on its screen."""
    if f"{one.screen}: {one.label}" in PLAIN:
        return []
    slugs = [slug for pattern, found in LEADS.items() if is_called(pattern, one.label) for slug in found]
    told = [numbers[slug] for slug in slugs if slug in numbers]
    return [each for each in told if each.where == "everywhere" or one.screen in re.split(r", |: ", each.where)]


def is_plain(one: Shown) -> bool:
    return any(is_called(each, one.label) or is_called(each, f"{one.screen}: {one.label}") for each in PLAIN)


def without(shown: Iterable[Shown], numbers: Mapping[str, Number]) -> list[Shown]:
    """The labels over a number that lead to no number of the help."""
    return [each for each in shown if not numbers_of(each, numbers) and not is_plain(each)]


def shown_by(pages: Iterable[Screen]) -> tuple[Shown, ...]:
    """The labels over a number of all pages, those of a screen each once."""
    return tuple({(each.screen, each.label): each for page in pages for each in shown_on(page)}.values())


def main() -> None:
    from app.web.help_numbers import NUMBERS

    for each in without(shown_by(screens()), {each.slug: each for each in NUMBERS}):
        print(each)


if __name__ == "__main__":
    main()
