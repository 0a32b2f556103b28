"""What a rehearsal has beside a run: a ruled clock, simulated people, trouble to come. Folded from its events."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING, assert_never

from app.core.events_rehearsal import (
    ClockRuled,
    InjectDone,
    InjectDropped,
    InjectSet,
    PlayersSet,
    RehearsalEvent,
)
from app.core.procedure import Designator

if TYPE_CHECKING:
    from app.core.events import Event, Logged

KEPT_FROM_TRAINEES = (InjectSet, InjectDropped, InjectDone)
"""What the log tells only to whoever trains, until the run has ended."""


@dataclass(frozen=True, slots=True)
class Ruling:
    """The clock's last ruling: elapsed is `to_s` plus `rate` times the seconds since it was given.

    Attributes:
        utc: what the server's wall clock showed then. stepped_ms: the steps of that clock logged before.
        seq: of its event; 0 for a clock that was never ruled.
    """

    rate: float = 1.0
    to_s: int = 0
    utc: datetime | None = None
    stepped_ms: int = 0
    seq: int = 0


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """`injects` are those that have not taken effect, by id; `set` counts all that there ever were.

    `since_s`: the elapsed second at which the players were set; they do nothing before it. `happened`: the injects that
    took effect, by id.
    """

    ruling: Ruling = field(default_factory=Ruling)
    players: tuple[Designator, ...] = ()
    seed: int = 0
    since_s: int = 0
    injects: Mapping[str, InjectSet] = field(default_factory=dict)
    happened: Mapping[str, InjectSet] = field(default_factory=dict)
    set: int = 0


def rehearsed(rehearsal: Rehearsal, event: RehearsalEvent, logged: "Logged", stepped_ms: int) -> Rehearsal:
    """The rehearsal after one event; `stepped_ms`: the steps of the wall clock logged so far."""
    match event:
        case ClockRuled(rate, to_s):
            return replace(rehearsal, ruling=Ruling(rate, to_s, logged.logged_at, stepped_ms, logged.seq))
        case PlayersSet(who, seed):
            return replace(rehearsal, players=who, seed=seed, since_s=logged.at_s)
        case InjectSet(inject):
            return replace(rehearsal, injects={**rehearsal.injects, inject: event}, set=rehearsal.set + 1)
        case InjectDropped(inject) | InjectDone(inject):
            left = {name: each for name, each in rehearsal.injects.items() if name != inject}
            over = {inject: rehearsal.injects[inject]} if inject in rehearsal.injects else {}
            happened = {**rehearsal.happened, **over} if isinstance(event, InjectDone) else rehearsal.happened
            return replace(rehearsal, injects=left, happened=happened)
        case _:
            assert_never(event)


def simulated_words(rehearsal: Rehearsal, crew: tuple[Designator, ...]) -> str:
    """``EV2, ARM simulated``, or ``all simulated``: whom nobody plays; empty where all are people."""
    if not rehearsal.players:
        return ""
    return f"{'all' if set(rehearsal.players) >= set(crew) else ', '.join(rehearsal.players)} simulated"


def is_kept_from_trainees(event: "Event") -> bool:
    """Whether the event would tell trainees what is to come."""
    return isinstance(event, KEPT_FROM_TRAINEES)
