"""A place in a tree that is asked for a value of one kind. It collects faults and gives a safe value for each.

A `Spot` is asked for a text, a duration, a list. If that is not what stands there, the fault is noted with its place
and the default is returned, so that one reading finds every fault of a file.
"""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from difflib import get_close_matches

from app.core.quoting import quoted
from app.core.times import TimeFault, read_clock, read_duration
from app.reading.faults import MOST_FAULTS, PlacedFault
from app.reading.yaml_tree import Broken, Leaf, Listing, Mapping, Node

Path = tuple[str | int, ...]

ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,63}")
"""Ids of procedures and tasks, and designators."""

_EXAMPLES = {
    "a hold": ", for example {go: [EV1]}",
    "limits": ", for example finish: 4:50",
    "a crew member": ", for example {does: Outside}",
    "a task": ", beginning with - task: and its short name",
    "a step": ", beginning with - do: and what is done",
    "get_ahead": ", for example {least_lead: 2 min}",
}
_VALUES = {
    "takes": ", for example takes: 8 min",
    "every": ", for example every: 60 min",
    "unit": ', for example unit: "%"',
}
"""What leads somebody who has not written one before."""

_NUMBER = re.compile(r"-?(?:0|[1-9][0-9]{0,14})(?:\.[0-9]{1,15})?")
_INTEGER = re.compile(r"0|-?[1-9][0-9]{0,14}")


@dataclass(slots=True)
class Notes:
    """What one reading has found.

    Attributes:
        faults: in the order they were met. paths: where in the tree, so that `checking` need not tell them again.
        unread: parts of the procedure that could not be read whole (see `checking.check`).
    """

    faults: list[PlacedFault] = field(default_factory=list)
    paths: set[Path] = field(default_factory=set)
    unread: set[str] = field(default_factory=set)


@dataclass(frozen=True, slots=True)
class Spot:
    node: Node
    path: Path
    notes: Notes
    line: int
    column: int

    def fault(self, what: str, remedy: str, path: Path | None = None) -> None:
        """Note that something is wrong here; `path` if the tree has it elsewhere, as with a key that is missing."""
        self.notes.faults.append(PlacedFault(self.line, self.column, what, remedy))
        self.notes.paths.add(self.path if path is None else path)

    @property
    def empty(self) -> bool:
        return isinstance(self.node, Leaf) and self.node.empty

    def under(self, key: str | int, node: Node, at: Node | None = None) -> "Spot":
        """The spot of a node below this one, placed at `at` if given."""
        placed = at or node
        return Spot(node, (*self.path, key), self.notes, placed.line, placed.column)

    def leaf(self, kind: str, example: str) -> str | None:
        """The text of a scalar without the blanks around it; None, with a fault, for anything else."""
        match self.node:
            case Leaf() as leaf if not leaf.empty and leaf.text.strip():
                return leaf.text.strip()
            case Leaf():
                self.fault(f"{self._name()} is empty", f"write {example}, or take the line out")
            case Listing() | Mapping():
                self.fault(f"{self._name()} should be {kind}, not {_said(self.node)}", f"write {example}")
            case Broken():
                self.notes.paths.add(self.path)
        return None

    def text(self) -> str:
        return self.leaf("a text", "a text") or ""

    def name(self) -> str:
        """An id or designator. A wrong one is noted and given all the same, so that references to it still meet it."""
        said = self.text()
        if said and not ID.fullmatch(said):
            remedy = "begin with a letter or digit, then letters, digits, - _ or . with no blanks, at most 64"
            self.fault(f"{quoted(said)} cannot be a name", remedy)
        return said

    def flag(self) -> bool:
        said = self.leaf("true or false", "true or false")
        if said is not None and not (said in {"true", "false"} and self._plain()):
            self.fault(f"{quoted(said)} is neither true nor false", "write true or false, without quotes")
        return said == "true"

    def integer(self, low: int | None = None, high: int | None = None) -> int | None:
        example = f"a whole number from {low} to {high}" if low is not None else "a whole number"
        said = self.leaf("a whole number", example)
        if said is None:
            return None
        if not _INTEGER.fullmatch(said) or not self._plain():
            self.fault(f"{quoted(said)} is not a whole number", f"write {example}, without quotes")
            return None
        value = int(said)
        if (low is not None and value < low) or (high is not None and value > high):
            self.fault(f"{value} is out of range", f"write {example}")
            return None
        return value

    def number(self) -> float | None:
        said = self.leaf("a number", "a number")
        if said is None:
            return None
        if not _NUMBER.fullmatch(said) or not self._plain():
            self.fault(
                f"{quoted(said)} is not a number", "write digits with a decimal point, without quotes: 12 or 0.5"
            )
            return None
        return float(said)

    def duration(self) -> int | None:
        return self._time("a duration", "a duration such as 8 min", read_duration)

    def clock(self) -> int | None:
        return self._time("an elapsed time", "h:mm or h:mm:ss", read_clock)

    def items(self) -> tuple["Spot", ...]:
        """The spots of a list; one text counts as a list of one, and nothing as a list of none."""
        match self.node:
            case Listing():
                return tuple(self.under(number, item) for number, item in enumerate(self.node.items))
            case Leaf() as leaf if leaf.empty:
                return ()
            case Broken():
                self.notes.paths.add(self.path)
                return ()
            case _:
                return (self.under(0, self.node),)

    def listing(self, of: str) -> tuple["Spot", ...] | None:
        """The spots of a list proper; None, with a fault, for anything else."""
        if isinstance(self.node, Listing):
            return self.items()
        self._not_a("a list", f"a list of {of}, each after a dash")
        return None

    def entries(self, of: str) -> tuple[tuple["Spot", "Spot"], ...] | None:
        """The (key, value) spots of a mapping with free keys; None, with a fault, for anything else."""
        node = self.node
        if isinstance(node, Mapping):
            return tuple(
                (self.under(key, node.keys[key]), self.under(key, value, node.keys[key]))
                for key, value in node.values.items()
            )
        self._not_a("a mapping", of)
        return None

    def fields(self, known: Iterable[str], required: Iterable[str], what: str) -> dict[str, "Spot"] | None:
        """The spots of a mapping by key; None, with a fault, for anything else.

        An unknown key is a fault. One that is very like a known key that is missing is then read as that key, so
        that the slip is told once.
        """
        node = self.node
        if not isinstance(node, Mapping):
            self._not_a("a mapping", f"{what} as key: value{_EXAMPLES.get(what, '')}")
            return None
        names = tuple(known)
        node = self._rejoined(node, names)
        found = {key: self._field(node, key, key) for key in node.values if key in names}
        for key in node.values:
            if key not in names:
                meant = self._unknown(node, key, names, what)
                if meant and meant not in found:
                    found[meant] = self._field(node, key, meant)
        for key in required:
            if key not in found:
                remedy = f"add {key}: with its value{_VALUES.get(key, '')}"
                self.fault(f"{what} lacks the key {quoted(key)}", remedy, (*self.path, key))
        return found

    def _rejoined(self, node: Mapping, known: tuple[str, ...]) -> Mapping:
        """The mapping with texts put together again that a comma cut in two, each with a remark."""
        values: dict[str, Node] = {}
        for key, value in node.values.items():
            last = next(reversed(values), None)
            before = values[last] if last else None
            if key in node.bare and key not in known and last and isinstance(before, Leaf) and before.plain:
                values[last] = Leaf(before.line, before.column, f"{before.text}, {key}")
                at = node.keys[key]
                what = f"a comma in braces ends a text; {quoted(key)} was taken as the rest of {last}"
                self.notes.faults.append(PlacedFault(at.line, at.column, what, "put the text in quotes", remark=True))
            else:
                values[key] = value
        return Mapping(node.line, node.column, values, node.keys)

    def _field(self, node: Mapping, key: str, meant: str) -> "Spot":
        value = node.values[key]
        return self.under(meant, value, None if isinstance(value, Leaf) and not value.empty else node.keys[key])

    def _unknown(self, node: Mapping, key: str, known: tuple[str, ...], what: str) -> str | None:
        spot = self.under(key, node.keys[key])
        shy = len(self.notes.faults) >= MOST_FAULTS
        close = [] if shy else get_close_matches(key[:64].casefold(), known, n=1, cutoff=0.7)
        remedy = f"did you mean {close[0]}?" if close else f"known are {', '.join(known)}"
        spot.fault(f"{what} has no key {quoted(key)}", remedy)
        return close[0] if close else None

    def _time(self, kind: str, example: str, read: Callable[[str], int]) -> int | None:
        said = self.leaf(kind, example)
        if said is None:
            return None
        try:
            return read(said)
        except TimeFault as fault:
            self.fault(str(fault), fault.remedy)
            return None

    def _not_a(self, kind: str, example: str) -> None:
        if isinstance(self.node, Broken):
            self.notes.paths.add(self.path)
        elif self.empty:
            self.fault(f"{self._name()} is empty", f"write {example}, or take the line out")
        else:
            self.fault(f"{self._name()} should be {kind}, not {_said(self.node)}", f"write {example}")

    def _name(self) -> str:
        """As it is told in a fault. A key that the file is free to choose may be of any length, and hold any sign."""
        keys = [step for step in self.path if isinstance(step, str)]
        if not self.path:
            return "the file"
        key = keys[-1] if ID.fullmatch(keys[-1]) else quoted(keys[-1])
        return key if isinstance(self.path[-1], str) else f"an item of {key}"

    def _plain(self) -> bool:
        return isinstance(self.node, Leaf) and self.node.plain


def _said(node: Node) -> str:
    match node:
        case Leaf():
            return f"the text {quoted(node.text)}"
        case Listing():
            return "a list"
        case _:
            return "a mapping"
