"""Events of a rehearsal: frozen, past-tense values. `events` has the rest and the JSON form."""

from dataclasses import dataclass

from app.core.procedure import Designator, StepId

INJECTS = ("delay", "failed step", "wrong reading", "lost tool", "no-go")
"""The kinds of trouble that a trainer can inject."""


@dataclass(frozen=True, slots=True)
class ClockRuled:
    """From now on elapsed goes on from `to_s`, by `rate` seconds each second; a rate of 0 stops it."""

    rate: float
    to_s: int


@dataclass(frozen=True, slots=True)
class PlayersSet:
    """Simulated people play these designators from now on, nobody if it is empty. `seed`: what is drawn for them."""

    who: tuple[Designator, ...]
    seed: int


@dataclass(frozen=True, slots=True)
class InjectSet:
    """Trouble to come, from elapsed second `from_s` on. `inject` is its id in this run, ``inject-1``.

    `what` is one of INJECTS, and says which of the others are there:

    - delay: `step` takes `by_s` longer.
    - failed step: `step` fails when it would be done, and is done once more.
    - wrong reading: `value` is read of `supply`, or recorded as the value `name` of `step`; None of a step's is one out
      of tolerance.
    - lost tool: `tool` is lost, by `person` if one is named.
    - no-go: `person` is no-go at `step`, a hold, or wherever they are asked next; `by_s` later they are go.

    `text`: what is said on the loop. `seed`: what it was drawn from, if it was.
    """

    inject: str
    what: str
    from_s: int
    text: str = ""
    person: Designator | None = None
    step: StepId | None = None
    tool: str | None = None
    supply: str | None = None
    name: str | None = None
    value: float | None = None
    by_s: int = 0
    seed: int | None = None


@dataclass(frozen=True, slots=True)
class InjectDropped:
    """The trainer took it back before it happened."""

    inject: str


@dataclass(frozen=True, slots=True)
class InjectDone:
    """It took effect, or was said on the loop."""

    inject: str


RehearsalEvent = ClockRuled | PlayersSet | InjectSet | InjectDropped | InjectDone
