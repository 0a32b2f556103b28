"""YAML 1.2 text to a plain tree with the place of every node. It never constructs a value and knows no keys.

Every scalar stays the text that was written: `NO`, `010`, `1:30:00` and `.nan` mean nothing here, and the reader of
each key says what it takes. Aliases, anchors, tags, a second document and deep nesting are refused.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    Event,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)

from app.core.quoting import quoted
from app.reading.characters import decoded, forbidden_in
from app.reading.faults import PlacedFault
from app.reading.yaml_slips import syntax_fault

MOST_NODES = 30_000
"""Our own bound. The reader takes about 30 microseconds a node; a procedure of 2,000 steps has about 20,000."""

MOST_WRONG = 1_000
"""Our own bound: a file in which so much is wrong is read no further. The first hundred are shown (`faults`)."""

DEEPEST = 20
LONGEST_TEXT = 4_000
LONGEST_LINE = 20_000
"""Our own bound. The parser takes seconds over a tag or an anchor of half a million characters."""

ITEMS_BEGIN = {"task": "task", "do": "step", "round": "round", "supply": "supply"}
"""The keys that items of a list begin with. It knows no other, and these only to guess at a missing dash."""


@dataclass(frozen=True, slots=True)
class Leaf:
    """A scalar as written. `plain`: it had no quotes, so `true` or `12` may be meant as more than text."""

    line: int
    column: int
    text: str
    plain: bool = True

    @property
    def empty(self) -> bool:
        """Nothing was written, or the words of YAML 1.2 (10.2.1.1) for nothing."""
        return self.plain and self.text in {"", "~", "null", "Null", "NULL"}


@dataclass(frozen=True, slots=True)
class Broken:
    """A node that was refused already: whoever reads it says nothing more."""

    line: int
    column: int


@dataclass(frozen=True, slots=True)
class Listing:
    line: int
    column: int
    items: "tuple[Node, ...]"


@dataclass(frozen=True, slots=True)
class Mapping:
    """Keys in file order, no key twice.

    `keys` has the place of each key. `bare` are keys in braces with no colon, as `b` in ``{does: a, b}``: YAML reads
    what follows a comma in an unquoted text so.
    """

    line: int
    column: int
    values: "dict[str, Node]"
    keys: dict[str, Leaf]
    bare: frozenset[str] = frozenset()


Node = Leaf | Broken | Listing | Mapping


@dataclass(frozen=True, slots=True)
class Tree:
    """`root` is None when the text could not be read to its end."""

    root: Node | None
    faults: tuple[PlacedFault, ...]


class _Stop(Exception):
    """Reading goes no further."""

    def __init__(self, fault: PlacedFault) -> None:
        super().__init__(str(fault))
        self.fault = fault


@dataclass(slots=True)
class _Open:
    """A list or mapping whose end has not been met."""

    line: int
    column: int
    mapping: bool
    items: list[Node] = field(default_factory=list)
    ends: list[tuple[int, int]] = field(default_factory=list)


def read_tree(data: bytes | str) -> Tree:
    """The tree of a file. Never raises on bad input: what is wrong is in `faults`."""
    text, faults = decoded(data)
    if faults:
        return Tree(None, tuple(faults))
    if long_line := _long_line(text):
        return Tree(None, (long_line,))
    builder = _Builder(text)
    try:
        for event in _events(text):
            builder.take(event)
    except _Stop as stop:
        return Tree(None, (*builder.faults, stop.fault))
    if builder.root is None:
        nothing = PlacedFault(1, 1, "the file is empty", "begin it with procedure:, title: and tasks:")
        return Tree(None, (*builder.faults, nothing))
    return Tree(builder.root, tuple(builder.faults))


def place(root: Node, path: tuple[str | int, ...]) -> tuple[int, int]:
    """1-based line and column of the node at `path`, or of the nearest parent that is there.

    A key with a list or mapping under it has the place of the key, a key with a text that of the text.
    """
    node, line, column = root, root.line, root.column
    for step in path:
        if isinstance(node, Mapping) and isinstance(step, str) and step in node.values:
            key, node = node.keys[step], node.values[step]
            line, column = (key.line, key.column) if isinstance(node, Listing | Mapping) else (node.line, node.column)
        elif isinstance(node, Listing) and isinstance(step, int) and step < len(node.items):
            node = node.items[step]
            line, column = node.line, node.column
        else:
            break
    return line, column


def _long_line(text: str) -> PlacedFault | None:
    for number, line in enumerate(text.splitlines(), 1):
        if len(line) > LONGEST_LINE:
            what = f"a line of {len(line):,} characters; at most {LONGEST_LINE:,} are read"
            return PlacedFault(number, 1, what, "break it into lines")
    return None


def _events(text: str) -> Iterator[Event]:
    line, column, event = 1, 1, None
    try:
        for event in YAML(typ="safe", pure=True).parse(text):
            line, column = event.end_mark.line + 1, event.end_mark.column + 1
            yield event
    except MarkedYAMLError as error:
        raise _Stop(syntax_fault(error, text, event)) from error
    except (YAMLError, ValueError, OverflowError, LookupError, AssertionError, AttributeError, TypeError) as error:
        # The parser lets errors of its own code through on some hostile texts, such as an escape beyond U+10FFFF.
        fault = PlacedFault(line, column, "what follows here is not YAML", "look for a wrong escape or directive")
        raise _Stop(fault) from error


class _Builder:
    """Takes the parser's events one by one and builds the tree, so that it can stop early."""

    def __init__(self, text: str) -> None:
        self._text = text
        self.faults: list[PlacedFault] = []
        self.root: Node | None = None
        self._open: list[_Open] = []
        self._nodes = 0
        self._documents = 0

    def take(self, event: Event) -> None:
        line, column = event.start_mark.line + 1, event.start_mark.column + 1
        match event:
            case DocumentStartEvent():
                self._document(event, line, column)
            case AliasEvent():
                self._count(line, column)
                self._fault(
                    line, column, f"{quoted(f'*{event.anchor}')} is an alias", "write the value out in full here"
                )
                self._put(Broken(line, column), event)
            case ScalarEvent():
                self._count(line, column)
                self._put(self._leaf(event, line, column), event)
            case SequenceStartEvent() | MappingStartEvent():
                self._count(line, column)
                self._begin(event, line, column)
            case SequenceEndEvent() | MappingEndEvent():
                self._put(self._closed(self._open.pop()), event)
        if len(self.faults) > MOST_WRONG:
            what = f"more than {MOST_WRONG:,} faults up to here: nothing further is read"
            raise _Stop(PlacedFault(line, column, what, "mend the first ones, and read it again"))

    def _fault(self, line: int, column: int, what: str, remedy: str) -> None:
        self.faults.append(PlacedFault(line, column, what, remedy))

    def _document(self, event: DocumentStartEvent, line: int, column: int) -> None:
        self._documents += 1
        if self._documents > 1:
            raise _Stop(PlacedFault(line, column, "a second document begins here", "keep one document to a file"))
        if event.tags or (event.version and tuple(event.version) != (1, 2)):
            self._fault(line, column, "a directive asks for something other than YAML 1.2", "take the % line out")

    def _count(self, line: int, column: int) -> None:
        self._nodes += 1
        if self._nodes > MOST_NODES:
            what = f"the file has more than {MOST_NODES:,} keys and values"
            raise _Stop(PlacedFault(line, column, what, "split the file"))

    def _begin(self, event: SequenceStartEvent | MappingStartEvent, line: int, column: int) -> None:
        if len(self._open) >= DEEPEST:
            what = f"lists and mappings are nested more than {DEEPEST} deep"
            raise _Stop(PlacedFault(line, column, what, "no key needs that: look for stray brackets"))
        self._refuse_properties(event, line, column)
        self._open.append(_Open(line, column, isinstance(event, MappingStartEvent)))

    def _refuse_properties(
        self, event: ScalarEvent | SequenceStartEvent | MappingStartEvent, line: int, column: int
    ) -> bool:
        if event.anchor:
            what = f"{quoted(f'&{event.anchor}')} is an anchor"
            self._fault(line, column, what, "take it out, and write each value out in full")
        if event.tag:
            tag = str(event.tag).replace("tag:yaml.org,2002:", "!!")
            self._fault(line, column, f"{quoted(tag)} is a tag", "take it out: the key says what is meant")
        return bool(event.tag)

    def _leaf(self, event: ScalarEvent, line: int, column: int) -> Node:
        broken = self._refuse_properties(event, line, column)
        forbidden = forbidden_in(event.value)
        if forbidden:
            self._fault(line, column, f"{forbidden} is not allowed in a text", "write the character itself, or nothing")
        if len(event.value) > LONGEST_TEXT:
            what = f"a text of {len(event.value):,} characters; at most {LONGEST_TEXT:,} are read"
            self._fault(line, column, what, "shorten it, or look for a missing quotation mark")
        if broken or forbidden or len(event.value) > LONGEST_TEXT:
            return Broken(line, column)
        return Leaf(line, column, event.value, plain=not event.style)

    def _put(self, node: Node, event: Event) -> None:
        if self._open:
            self._open[-1].items.append(node)
            self._open[-1].ends.append((event.start_mark.index, event.end_mark.index))
        else:
            self.root = node

    def _closed(self, done: _Open) -> Node:
        if not done.mapping:
            return Listing(done.line, done.column, tuple(done.items))
        values: dict[str, Node] = {}
        keys: dict[str, Leaf] = {}
        bare: set[str] = set()
        for at in range(0, len(done.items), 2):
            key, value = done.items[at : at + 2]
            if not isinstance(key, Leaf) or key.empty:
                if not isinstance(key, Broken):
                    self._fault(key.line, key.column, "a key should be a word", "write it as word: value")
            elif key.text in keys:
                what = f"{quoted(key.text)} is given twice, first in line {keys[key.text].line}"
                begins = key.text in ITEMS_BEGIN and key.text == next(iter(keys))
                new = f"; if another {ITEMS_BEGIN[key.text]} begins here, put a dash before it" if begins else ""
                self._fault(key.line, key.column, what, f"keep one of them{new}")
            else:
                keys[key.text], values[key.text] = key, value
                if (
                    isinstance(value, Leaf)
                    and value.empty
                    and ":" not in self._between(done.ends[at], done.ends[at + 1])
                ):
                    bare.add(key.text)
        return Mapping(done.line, done.column, values, keys, frozenset(bare))

    def _between(self, key: tuple[int, int], value: tuple[int, int]) -> str:
        return self._text[key[1] : value[0]]
