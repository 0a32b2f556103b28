"""The moments of a run worth going to: where something happened, and where the lead turned. It draws nothing.

The lead between two events never rises, for then nothing but the time changes, and a projection only ever moves later
with it. So of each stretch between events its first and last second are enough to know whether the lead fell below a
bound in it, and halving finds the second.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import IntEnum, StrEnum

from app.core.events import Event, NoGoGiven, TasksPutOff
from app.core.events_watch import FlagRaised, PollAnswered, RoundAnswered


class Kind(StrEnum):
    """What is jumped to. The value is how it is called."""

    BEHIND = "Lead turned negative"
    NO_GO = "No-go"
    PUT_OFF = "Put off"
    FLAG = "Flag"


class Depth(IntEnum):
    """How a team lead stands: not below zero; below it and still read "on plan"; read "behind"."""

    NOT_NEGATIVE = 0
    NEGATIVE = 1
    BEHIND = 2


@dataclass(frozen=True, slots=True)
class Turn:
    """The first second at which the team lead stands so deep; the second before it stood higher."""

    at_s: int
    depth: Depth


def kind_of_jump(event: Event) -> Kind | None:
    """What the event is jumped to as, at a hold, a poll or a round alike; None for all others."""
    match event:
        case NoGoGiven() | PollAnswered(go=False):
            return Kind.NO_GO
        case TasksPutOff():
            return Kind.PUT_OFF
        case FlagRaised() | RoundAnswered(good=False):
            return Kind.FLAG
        case _:
            return None


def before(seconds: Sequence[int], at_s: int) -> int | None:
    """The last of the rising `seconds` before `at_s`; None if there is none."""
    place = bisect_left(seconds, at_s)
    return seconds[place - 1] if place else None


def after(seconds: Sequence[int], at_s: int) -> int | None:
    """The first of the rising `seconds` after `at_s`; None if there is none."""
    place = bisect_right(seconds, at_s)
    return seconds[place] if place < len(seconds) else None


def around(seconds: Sequence[int], at_s: int, most: int) -> slice:
    """At most so many (three or more) of the rising `seconds` about `at_s`, before it as many as after it."""
    middle = (bisect_left(seconds, at_s) + bisect_right(seconds, at_s)) // 2
    first = max(0, min(middle - most // 2, len(seconds) - most))
    return slice(first, first + most)


def depth_of(lead_s: int, within_s: int) -> Depth:
    """`within_s`: up to so many seconds a lead is read "on plan"."""
    return Depth.BEHIND if lead_s < -within_s else Depth.NEGATIVE if lead_s < 0 else Depth.NOT_NEGATIVE


def turns(
    lead_at: Callable[[int], int], first_s: int, last_s: int, before_it: Depth, within_s: int
) -> tuple[tuple[Turn, ...], Depth]:
    """The turns in one stretch without an event but at its first second, and how deep it ends.

    Args:
        lead_at: the team lead in seconds at an elapsed second of the stretch; asked for as few as can be.
        before_it: how the lead stood the second before the stretch. Before zero it was `Depth.NOT_NEGATIVE`.
    """
    ends = depth_of(lead_at(last_s), within_s)
    if ends is Depth.NOT_NEGATIVE:
        return (), ends
    begins = depth_of(lead_at(first_s), within_s)
    found = {first_s: begins} if begins > before_it else {}
    for depth in range(begins + 1, ends + 1):
        found[_first(lead_at, first_s, last_s, Depth(depth), within_s)] = Depth(depth)
    return tuple(Turn(at_s, depth) for at_s, depth in found.items()), ends


def _first(lead_at: Callable[[int], int], high_s: int, low_s: int, depth: Depth, within_s: int) -> int:
    """The first second so deep, which `high_s` is not and `low_s` is."""
    while low_s - high_s > 1:
        middle_s = (high_s + low_s) // 2
        if depth_of(lead_at(middle_s), within_s) >= depth:
            low_s = middle_s
        else:
            high_s = middle_s
    return low_s
