"""Reads the labels from a page: the words that name its parts, its fields, its buttons. No test of its own."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

NAMING = frozenset(["h1", "h2", "h3", "h4", "legend", "button", "label", "dt", "summary", "caption", "figcaption"])
"""Elements whose words are a label."""
DATA = frozenset(["select", "textarea", "option", "script", "style", "svg", "title", "kbd", "code", "pre"])
"""What stands in them is a choice, a drawing, a key or what somebody wrote."""
EMPTY = frozenset(["input", "br", "img", "meta", "link", "hr", "wbr"])
ROW_NAMES = frozenset(("compared",))
"""Classes of tables whose row headings are the tool's own words; other rows are named by data."""


@dataclass
class Node:
    """An element, with its pieces in order: texts and elements."""

    tag: str
    attributes: dict[str, str]
    pieces: "list[str | Node]" = field(default_factory=list)

    @property
    def classes(self) -> set[str]:
        return set(self.attributes.get("class", "").split())

    def walk(self) -> "Iterator[Node]":
        yield self
        for piece in self.pieces:
            if isinstance(piece, Node):
                yield from piece.walk()

    def words(self) -> str:
        """The words of this element itself: without data in it, and without labels of its own."""
        return " ".join(" ".join(_words(self)).split()).replace(" .", ".").strip(" ·:,.")


def _words(node: Node) -> Iterator[str]:
    for piece in node.pieces:
        if isinstance(piece, str):
            yield piece
        elif not _is_apart(piece):
            yield from _words(piece)


def _is_apart(node: Node) -> bool:
    """Whether an element within a label is no part of its words."""
    hidden = node.attributes.get("aria-hidden") == "true" or "data-fig" in node.attributes
    return (
        hidden
        or node.tag in DATA | {"button", "a"}
        or bool(node.classes & {"quiet", "small", "tag", "title", "pace", "only-read"})
    )


class _Tree(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Node("html", {})
        self.open = [self.root]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        node = Node(tag, {name: value or "" for name, value in attrs})
        self.open[-1].pieces.append(node)
        if tag not in EMPTY:
            self.open.append(node)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open[-1].pieces.append(Node(tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        while len(self.open) > 1 and self.open.pop().tag != tag:
            pass

    def handle_data(self, data: str) -> None:
        self.open[-1].pieces.append(data)


def tree(page: str) -> Node:
    reader = _Tree()
    reader.feed(page)
    return reader.root


def labels(page: str) -> list[str]:
    """Every label of a page, in its order, each once."""
    return list(dict.fromkeys(text for text in _all(tree(page)) if any(sign.isalpha() for sign in text)))


def _all(root: Node) -> Iterator[str]:
    for node in root.walk():
        if node.tag in NAMING or "tag" in node.classes:
            yield node.words()
        elif node.tag == "table":
            yield from _headings(node)
        elif node.tag == "b" and _is_badge(node.words()):
            yield node.words()
        elif node.tag == "input" and "aria-label" in node.attributes:
            yield node.attributes["aria-label"]
        elif node.tag == "a" and "button" in node.classes:
            yield node.attributes.get("aria-label") or node.words()


def _headings(table: Node) -> Iterator[str]:
    for node in table.walk():
        if node.tag == "th" and (node.attributes.get("scope") == "col" or table.classes & ROW_NAMES):
            yield node.words()


def _is_badge(words: str) -> bool:
    """Whether words in bold are a badge: WARNING, HOLD, TURN-BACK TIME PASSED."""
    letters = [sign for sign in words if sign.isalpha()]
    return len(letters) > 3 and all(sign.isupper() for sign in letters)
