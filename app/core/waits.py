"""Who waits for whom, in order of time: what is still to come together. It only reads a situation."""

from collections.abc import Iterator
from dataclasses import dataclass

from app.core.procedure import Designator, StepId
from app.core.situation import Situation, StepState


@dataclass(frozen=True, slots=True)
class Wait:
    """A step that waits for other people.

    Attributes:
        about_s: when it is expected to end, elapsed seconds: the projected start, or now for a hold under way.
        who: the waiting people. step: their step.
        on: the people waited for. until: the step waited for; None when their go is waited for.
    """

    about_s: int
    who: tuple[Designator, ...]
    step: StepId
    on: tuple[Designator, ...]
    until: StepId | None


def waits(situation: Situation) -> tuple[Wait, ...]:
    """Every wait of one person for another that is still open, the earliest first."""
    return tuple(sorted([*_for_go(situation), *_for_steps(situation)], key=lambda wait: (wait.about_s, wait.step)))


def _for_go(situation: Situation) -> Iterator[Wait]:
    for number, state in enumerate(situation.states):
        step = situation.network.steps[number]
        if state is StepState.UNDER_WAY and step.go:
            missing = situation.missing_go(step)
            if missing:
                yield Wait(situation.projection.times(number)[1], step.who, step.id, missing, None)


def _for_steps(situation: Situation) -> Iterator[Wait]:
    """For each waiting step, the prerequisite of other people that will be met last."""
    for number, state in enumerate(situation.states):
        if state is not StepState.WAITING:
            continue
        step = situation.network.steps[number]
        others = [
            (situation.projection.times(earlier)[1] + wait_s, earlier)
            for earlier, wait_s in situation.prerequisites(number)
            if situation.is_open(earlier) and set(situation.network.steps[earlier].who) - set(step.who)
        ]
        if others:
            _, binding = max(others)
            until = situation.network.steps[binding]
            on = tuple(person for person in until.who if person not in step.who)
            yield Wait(situation.projection.times(number)[0], step.who, step.id, on, until.id)
