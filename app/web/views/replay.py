"""The Replay bar of a past moment: where it is in the run, what is before and after it, and what can be jumped to."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from app.core.events import Logged
from app.core.fold import happened_s
from app.core.moments import Depth, Kind, Turn, after, around, before
from app.core.procedure import Procedure
from app.core.times import clock, duration
from app.service.seeking import Moments
from app.web.views.told import Teller

MOST_ROWS = 60
"""So many moments of one kind are listed, those nearest to the one shown: nobody reads more. Our own bound."""
EVENTS_AROUND = 60
"""So many seconds with an event are told to the script, for presses that come before the answer to the last one."""
COLUMNS = 400
"""Marks under the slider nearer to each other than this part of it are one mark: they would cover each other."""

SIGNS = {Kind.BEHIND: "▼", Kind.NO_GO: "■", Kind.PUT_OFF: "◆", Kind.FLAG: "⚑"}
SHAPES = {
    Kind.BEHIND: "M-4.5 0H4.5L0 8Z",
    Kind.NO_GO: "M-3.5 .5H3.5V7.5H-3.5Z",
    Kind.PUT_OFF: "M0 -.5L4.5 4L0 8.5L-4.5 4Z",
    Kind.FLAG: "M-2.5 -.5L4.5 2.5L-1.3 5.5V9H-2.5Z",
}
"""The same as outlines for SVG, about their place on the slider."""
LANE_PX = 11


@dataclass(frozen=True, slots=True)
class Moment:
    """A moment to go to, as a clock, which is its address too. `words`: what happened."""

    at_s: int
    at: str
    words: str = ""


@dataclass(frozen=True, slots=True)
class Lane:
    """The marks of one kind under the slider: outline, per cent of its length, pixels from the top."""

    key: str
    shape: str
    xs: tuple[float, ...]
    y: int


@dataclass(frozen=True, slots=True)
class Group:
    """The moments of one kind. `of`: how many there are when not all are listed, else 0."""

    key: str
    name: str
    sign: str
    number: int
    rows: tuple[Moment, ...]
    of: int


@dataclass(frozen=True, slots=True)
class Replay:
    """`looked`: up to when it is known where the lead turned, or None when that is known for the whole run.

    `events`: seconds at which something happened, about the moment shown.
    """

    here: Moment
    end: Moment
    running: bool
    previous: Moment | None
    next: Moment | None
    events: tuple[int, ...]
    lanes: tuple[Lane, ...]
    groups: tuple[Group, ...]
    looked: str | None


def replay(moments: Moments, procedure: Procedure, at_s: int) -> Replay:
    """`procedure`: with the steps that the run has added, for the words."""
    seconds = [
        second for second in moments.seconds[around(moments.seconds, at_s, EVENTS_AROUND)] if second <= moments.end_s
    ]
    found = {kind: tuple(happened_s(each) for each in entries) for kind, entries in moments.entries.items()}
    found = {Kind.BEHIND: tuple(turn.at_s for turn in moments.turns), **found}
    earlier, later = before(seconds, at_s), after(seconds, at_s)
    return Replay(
        here=moment(at_s),
        end=moment(moments.end_s),
        running=moments.running,
        previous=None if earlier is None else moment(earlier),
        next=None if later is None else moment(later),
        events=tuple(seconds),
        lanes=_lanes(found, moments.end_s),
        groups=tuple(_group(kind, all_of_it, at_s, moments, procedure) for kind, all_of_it in found.items()),
        looked=None if moments.complete else clock(moments.looked_s),
    )


def moment(at_s: int, words: str = "") -> Moment:
    return Moment(at_s, clock(at_s), words)


def _key(kind: Kind) -> str:
    return kind.name.lower().replace("_", "-")


def _lanes(found: Mapping[Kind, Sequence[int]], end_s: int) -> tuple[Lane, ...]:
    there = [kind for kind, seconds in found.items() if seconds]
    return tuple(
        Lane(_key(kind), SHAPES[kind], _xs(found[kind], end_s), 2 + LANE_PX * place) for place, kind in enumerate(there)
    )


def _xs(seconds: Sequence[int], end_s: int) -> tuple[float, ...]:
    columns = {round(second * COLUMNS / max(1, end_s)) for second in seconds if second <= end_s}
    return tuple(column * 100 / COLUMNS for column in sorted(columns))


def _group(kind: Kind, seconds: Sequence[int], at_s: int, moments: Moments, procedure: Procedure) -> Group:
    shown = around(seconds, at_s, MOST_ROWS)
    if kind is Kind.BEHIND:
        within_s = procedure.on_plan_within_s
        rows = tuple(moment(turn.at_s, turn_words(turn, within_s)) for turn in moments.turns[shown])
    else:
        rows = _entry_rows(moments.entries[kind][shown], moments.polls, procedure)
    return Group(
        _key(kind), kind.value, SIGNS[kind], len(seconds), rows, len(seconds) if len(rows) < len(seconds) else 0
    )


def _entry_rows(entries: Sequence[Logged], polls: Sequence[Logged], procedure: Procedure) -> tuple[Moment, ...]:
    teller = Teller(procedure, [*polls, *entries])
    return tuple(moment(happened_s(each), teller.sentence(each)) for each in entries)


def turn_words(turn: Turn, within_s: int) -> str:
    if turn.depth is Depth.BEHIND:
        return "Team behind"
    return f"Team lead below zero, still read “on plan” (within {duration(within_s)})"
