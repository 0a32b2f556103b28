"""The trainer's page: the clock, who is simulated, trouble to come. It orders nothing."""

from collections.abc import Iterable
from dataclasses import dataclass

from app.core.events_rehearsal import InjectSet
from app.core.procedure import Designator, Step, StepId
from app.core.rehearsal import Ruling
from app.core.simulating_cast import Cast, cast_of
from app.core.simulating_watch import comes_by_itself
from app.core.situation import Situation, StepState
from app.core.times import clock
from app.core.words import step_words
from app.core.words_rehearsal import inject_words, rate_words
from app.web.keys import NewKey

RATES = (1, 2, 5, 10, 30, 60)
"""Speeds with a button of their own; any other may be typed."""


@dataclass(frozen=True, slots=True)
class ClockWords:
    """`stands`: it is stopped. `words`: how it goes. `rates`: (as sent, as shown, whether it goes so now)."""

    stands: bool
    words: str
    rates: tuple[tuple[str, str, bool], ...]


@dataclass(frozen=True, slots=True)
class Played:
    """One designator: whether a simulated person plays it, and what it is at now."""

    person: Designator
    does: str
    simulated: bool
    now: str


@dataclass(frozen=True, slots=True)
class ToCome:
    """Trouble that has not taken effect. `due`: its time has come, and its step's. `by_itself`: nobody need be told."""

    inject: str
    words: str
    at: str
    due: bool
    by_itself: bool
    key: str
    key_done: str


@dataclass(frozen=True, slots=True)
class Trainer:
    """What the page shows; the choices of its forms are those of the run as it stands.

    `steps`: open ones, as (id, words); `recording` those that record values, `values` the names of these; `holds` those
    at which somebody is asked.
    """

    ended: bool
    clock: ClockWords
    played: tuple[Played, ...]
    seed: int
    to_come: tuple[ToCome, ...]
    steps: tuple[tuple[StepId, str], ...]
    recording: tuple[tuple[StepId, str], ...]
    values: tuple[str, ...]
    gauges: tuple[str, ...]
    tools: tuple[str, ...]
    holds: tuple[tuple[StepId, str], ...]
    crew: tuple[Designator, ...]


def trainer(situation: Situation, new_key: NewKey) -> Trainer:
    rehearsal, procedure, cast = situation.state.rehearsal, situation.procedure, cast_of(situation)
    steps = [each for number, each in enumerate(situation.network.steps) if situation.is_open(number)]
    return Trainer(
        ended=situation.state.ended_s is not None,
        clock=_clock(rehearsal.ruling),
        played=tuple(
            Played(each.designator, each.does, each.designator in rehearsal.players, _now(situation, each.designator))
            for each in procedure.crew
        ),
        seed=rehearsal.seed,
        to_come=tuple(
            _to_come(situation, cast, each, new_key)
            for each in sorted(rehearsal.injects.values(), key=lambda one: one.from_s)
        ),
        steps=_named(steps),
        recording=_named([step for step in steps if step.record]),
        values=tuple(dict.fromkeys(value.name for step in steps for value in step.record)),
        gauges=tuple(supply.name for supply in procedure.supplies),
        tools=procedure.tools,
        holds=_named([step for step in steps if step.go]),
        crew=situation.network.crew,
    )


def _named(steps: Iterable[Step]) -> tuple[tuple[StepId, str], ...]:
    return tuple((step.id, step.do) for step in steps)


def _clock(ruling: Ruling) -> ClockWords:
    rates = tuple((f"{rate}", f"{rate}×", ruling.rate == rate) for rate in RATES)
    return ClockWords(ruling.rate == 0, rate_words(ruling.rate), rates)


def _now(situation: Situation, person: Designator) -> str:
    step = situation.person(person).next
    return "nothing left" if step is None else f"{situation.step(step).do} ({step})"


def _to_come(situation: Situation, cast: Cast | None, event: InjectSet, new_key: NewKey) -> ToCome:
    return ToCome(
        inject=event.inject,
        words=inject_words(event, situation.procedure, step_words),
        at=clock(event.from_s),
        due=event.from_s <= situation.at_s and _is_next(situation, event.step),
        by_itself=cast is not None and comes_by_itself(situation, cast, event),
        key=new_key(),
        key_done=new_key(),
    )


def _is_next(situation: Situation, step: StepId | None) -> bool:
    """Whether somebody is at the step, or could be; so is what is about no step."""
    return step is None or situation.states[situation.network.index[step]] in (StepState.UNDER_WAY, StepState.READY)
