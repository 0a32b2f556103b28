"""A rehearsal's script as frozen values, and the orders that it comes to. It reads no file and gives no order."""

from collections.abc import Iterator
from dataclasses import dataclass

from app.core.commands import Command
from app.core.commands_rehearsal import RuleClock, SetInject, SetPlayers
from app.core.procedure import Designator
from app.core.situation import Prepared
from app.core.trouble import draw_trouble

TRAINER = "Trainer"
"""Who signs what a rehearsal begins with."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """So many troubles drawn from a seed, beside those that are written down."""

    seed: int
    count: int


@dataclass(frozen=True, slots=True)
class Script:
    """What a rehearsal begins with.

    Attributes:
        procedure: the id of the procedure that it is for; empty for any. seed: of the simulated people, None where it
            is left to whoever starts it. players: who is simulated, None for the whole crew.
        speed: seconds of elapsed each second. stopped: the clock stands until the trainer lets it go.
    """

    procedure: str = ""
    seed: int | None = None
    players: tuple[Designator, ...] | None = ()
    speed: float = 1.0
    stopped: bool = False
    injects: tuple[SetInject, ...] = ()
    random: Drawn | None = None


def first_orders(prepared: Prepared, script: Script, seed: int) -> Iterator[Command]:
    """The orders of whoever trains, all of them for elapsed 0. The clock is ruled last."""
    who = tuple(person.designator for person in prepared.procedure.crew) if script.players is None else script.players
    if who:
        yield SetPlayers(who, seed)
    yield from troubles(prepared, script)
    if script.stopped:
        yield RuleClock(rate=0.0)
    elif script.speed != 1:
        yield RuleClock(rate=script.speed)


def troubles(prepared: Prepared, script: Script) -> tuple[SetInject, ...]:
    """Those that are written down, then those that are drawn."""
    drawn = script.random
    return (*script.injects, *(() if drawn is None else draw_trouble(prepared, drawn.seed, drawn.count)))
