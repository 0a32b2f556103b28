"""Orders of whoever trains in a rehearsal. See `commands`; `training` says what becomes of them."""

from dataclasses import dataclass

from app.core.procedure import Designator, StepId


@dataclass(frozen=True, slots=True)
class RuleClock:
    """Stop the clock (`rate` 0), let it go on, speed it up, or set it forward to elapsed second `to_s`.

    None leaves the rate, or elapsed, as it is.
    """

    rate: float | None = None
    to_s: int | None = None


@dataclass(frozen=True, slots=True)
class SetPlayers:
    """Have simulated people play these designators, and nobody else."""

    who: tuple[Designator, ...]
    seed: int = 0


@dataclass(frozen=True, slots=True)
class SetInject:
    """Have trouble from elapsed second `from_s` on, from now if it is None. The rest as in `InjectSet`."""

    what: str
    from_s: int | None = None
    text: str = ""
    person: Designator | None = None
    step: StepId | None = None
    tool: str | None = None
    supply: str | None = None
    name: str | None = None
    value: float | None = None
    by_s: int = 0


@dataclass(frozen=True, slots=True)
class DrawTrouble:
    """Have so many troubles, drawn from a seed over what is left of the run."""

    count: int
    seed: int


@dataclass(frozen=True, slots=True)
class DropInject:
    inject: str


@dataclass(frozen=True, slots=True)
class NoteInjectDone:
    """It took effect, or the trainer has said it on the loop."""

    inject: str


RehearsalCommand = RuleClock | SetPlayers | SetInject | DrawTrouble | DropInject | NoteInjectDone
