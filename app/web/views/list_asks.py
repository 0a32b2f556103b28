"""What others' lists ask of one person: to confirm a step, to say go at a hold. Their own steps stand in their band."""

from dataclasses import dataclass

from app.core.procedure import Designator, Step, StepId
from app.core.situation import Situation
from app.core.times import clock
from app.web.keys import NewKey
from app.web.views.step_progress import said_words, value_phrases


@dataclass(frozen=True, slots=True)
class Asked:
    """A step of somebody else that waits for this person.

    Attributes:
        do: ``confirm`` or ``go``. who: whose step it is. said: what is known of it, in words; it stands before the
            button. is_no_go: this person's no-go stands, and a go needs what lifts it.
    """

    do: str
    step: StepId
    who: str
    text: str
    said: str
    is_no_go: bool
    key: str
    key_no_go: str


def asks(situation: Situation, person: Designator, new_key: NewKey) -> tuple[Asked, ...]:
    """In file order. A hold asks as soon as it is reached, until this person is go."""
    next_step = situation.person(person).next
    found = []
    for number, step in enumerate(situation.network.steps):
        if step.id != next_step and situation.is_open(number):
            if _confirms(situation, step, person):
                found.append(_confirm(situation, step, new_key))
            elif person in situation.missing_go(step) and not situation.open_before(number):
                found.append(_go(situation, step, person, new_key))
    return tuple(found)


def _confirms(situation: Situation, step: Step, person: Designator) -> bool:
    call = situation.state.progress.called.get(step.id)
    return step.confirm_by == person and call is not None and call.confirmed_s is None


def _confirm(situation: Situation, step: Step, new_key: NewKey) -> Asked:
    call = situation.state.progress.called[step.id]
    values = value_phrases(step, call.values)
    by = f" by {call.by}" if call.by else ""
    said = f"Called complete at {clock(call.at_s)}{by}{f': {values}' if values else ''}."
    return Asked("confirm", step.id, _who(step), step.do, said, False, new_key(), new_key())


def _go(situation: Situation, step: Step, person: Designator, new_key: NewKey) -> Asked:
    answer = situation.state.answer(step.id, person)
    said = f"You are {said_words(answer)}." if answer else f"Go needed from {person}: no answer yet."
    return Asked("go", step.id, _who(step), step.do, said, answer is not None, new_key(), new_key())


def _who(step: Step) -> str:
    return " and ".join(step.who) or "Nobody"
