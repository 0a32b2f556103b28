"""Places words on a chart so that none lies on another. It knows where they belong, not what they mean.

A chart is as wide as its screen, so what is known is the least width: words that are apart there are apart everywhere.
"""

from collections.abc import Sequence
from dataclasses import dataclass

LEAST_PX = 285
"""The plot is at least so wide on the narrowest screen that is laid out for, 390 px."""
LINE_PX = 15
"""From one line of words to the next."""
_WIDE = frozenset("MWmw@%")


def width_px(text: str) -> float:
    """How wide the words are at most in bold Inter of 11.85 px, by its widest letters of each kind, measured."""
    return sum(
        13 if each in _WIDE or not each.isascii() else 9.3 if each.isupper() else 7.7 if each != " " else 4
        for each in text
    )


def share_of(px: float) -> float:
    """Pixels in per cent of the narrowest plot."""
    return px * 100 / LEAST_PX


def share(text: str) -> float:
    """The width of words in per cent of the narrowest plot."""
    return share_of(width_px(text))


def cut(text: str, room: float) -> str:
    """The words, or as much of their beginning as has room in so many per cent of the narrowest plot."""
    if share(text) <= room:
        return text
    most = next((most for most in range(len(text) - 1, 0, -1) if share(text[:most] + "…") <= room), 0)
    return text[:most] + "…"


@dataclass(frozen=True, slots=True)
class Hung:
    """Words beside the head of a vertical line, in one of the rows above the plot; `anchor` is SVG's."""

    row: int
    anchor: str


@dataclass(frozen=True, slots=True)
class _Line:
    x: float
    left: float
    right: float

    def covers(self, x: float) -> bool:
        """Whether the words would lie over a line there; the line they belong to is at their edge."""
        return self.left < x < self.right

    def meets(self, other: "_Line") -> bool:
        return self.left < other.right and other.left < self.right


GAP = share_of(8)
"""Between a line and its words, and from words to words, in per cent of the narrowest plot."""


def hang(lines: Sequence[tuple[float, str]]) -> tuple[Hung, ...]:
    """Rows and sides for the words of vertical lines at x per cent, in as few rows as can be.

    Each line begins at its words' row and goes down. So words must not lie over a line that begins higher up; where
    that can't be had, on a very narrow chart, the words interrupt the line.
    """
    order = sorted(range(len(lines)), key=lambda place: lines[place][0])
    found: list[tuple[tuple[float, int, int], dict[int, Hung]]] = []
    for turned in range(len(lines) + 1):
        sides = {place: "start" if rank < turned else "end" for rank, place in enumerate(order)}
        spans = {place: _span(*lines[place], sides[place]) for place in order}
        rows, crossed = _rows(spans)
        outside = sum(max(0.0, -each.left) + max(0.0, each.right - 100) for each in spans.values())
        cost = (round(outside, 1), crossed, max(rows.values(), default=0))
        found.append((cost, {place: Hung(rows[place], sides[place]) for place in order}))
    best = min(found, key=lambda each: each[0])[1]
    return tuple(best[place] for place in range(len(lines)))


def _span(x: float, text: str, anchor: str) -> _Line:
    wide = share(text) + GAP
    return _Line(x, x, x + wide) if anchor == "start" else _Line(x, x - wide, x)


def _rows(spans: dict[int, _Line]) -> tuple[dict[int, int], int]:
    """A row for each, 0 the highest, and how many lines are crossed all the same."""
    rows: dict[int, int] = {}
    crossed, left = 0, dict(spans)
    while left:
        free = [place for place in left if not _must_wait(place, left)]
        crossed += not free
        place = free[0] if free else next(iter(left))
        span = left.pop(place)
        above = [row for other, row in rows.items() if spans[other].covers(span.x)]
        row = max(above, default=-1) + 1
        while any(rows[other] == row and spans[other].meets(span) for other in rows):
            row += 1
        rows[place] = row
    return rows, crossed


def _must_wait(place: int, left: dict[int, _Line]) -> bool:
    """Whether words that have no row yet lie over this line, and so must be above its head."""
    return any(other != place and span.covers(left[place].x) for other, span in left.items())


def spread(wanted: Sequence[float], low: float, high: float) -> tuple[float, ...]:
    """Heights as near to those wanted as they can be, in the same order, at least a line apart, within low and high.

    Those that want the same place stand in the order given. When there is no room for all they stand closer.
    """
    apart = min(LINE_PX, (high - low) / max(1, len(wanted) - 1))
    order = sorted(range(len(wanted)), key=lambda place: wanted[place])
    heights = dict(zip(order, _in_order([wanted[place] for place in order], apart, low, high), strict=True))
    return tuple(round(heights[place], 1) for place in range(len(wanted)))


def _in_order(rising: Sequence[float], apart: float, low: float, high: float) -> list[float]:
    """Groups that touch become one, whose middle is where its members want to be on average."""
    groups: list[list[float]] = []
    for wish in rising:
        groups.append([wish])
        while len(groups) > 1 and _first(groups[-2], apart, low, high) + len(groups[-2]) * apart > _first(
            groups[-1], apart, low, high
        ):
            last = groups.pop()
            groups[-1] += last
    return [_first(group, apart, low, high) + rank * apart for group in groups for rank in range(len(group))]


def _first(group: Sequence[float], apart: float, low: float, high: float) -> float:
    """Where the first of a group stands, so that all of it is between low and high."""
    length = (len(group) - 1) * apart
    return max(low, min(high - length, sum(group) / len(group) - length / 2))
