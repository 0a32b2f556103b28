"""How a simulated person answers when go or no-go is asked, at a hold or in a poll. See `simulating`."""

from collections.abc import Callable
from dataclasses import dataclass

from app.core.commands import Command
from app.core.events_rehearsal import InjectSet
from app.core.procedure import Designator, StepId
from app.core.shares import between
from app.core.simulating_cast import Act, Cast
from app.core.watch import Answer

ANSWERS_S = (10, 45)
AGAIN_S = (5, 20)
"""How long after the question, or after it turns out otherwise, somebody answers. Our own, no source."""
LIFTS_S = 180
"""After so long a no-go is lifted where the trouble does not say when."""
NOT_READY = "not ready"
SETTLED = "settled"


@dataclass(frozen=True, slots=True)
class Ask:
    """`name` of the question; `hold` is its step, None for a poll. `answer`: what `person` has said, if anything."""

    name: str
    hold: StepId | None
    person: Designator
    asked_s: int
    answer: Answer | None


def answer_act(cast: Cast, ask: Ask, say: Callable[[bool, str], Command]) -> Act | None:
    """The next answer, made by `say(go, reason)`: go, a no-go that waits for this person, or what lifts it.

    None while nothing is to be said. A no-go that somebody else entered for this person is not lifted.
    """
    trouble = next((each for each in cast.waiting("no-go") if _befalls(each, ask)), None)
    if ask.answer is not None and not ask.answer.go:
        lifts_s = _lifts_s(cast, ask, ask.answer)
        return None if lifts_s is None else Act(lifts_s, say(True, SETTLED), ask.person)
    if ask.answer is None:
        at_s = ask.asked_s + between(cast.seed, *ANSWERS_S, "answers", ask.name, ask.person, ask.asked_s)
        if trouble is None or trouble.from_s > at_s:
            return Act(at_s, say(True, ""), ask.person)
    elif trouble is not None:
        again_s = max(trouble.from_s, ask.answer.at_s)
        at_s = again_s + between(cast.seed, *AGAIN_S, "again", ask.name, ask.person, again_s)
    if trouble is None:
        return None
    return Act(at_s, say(False, _reason(trouble)), ask.person, trouble.inject)


def _befalls(trouble: InjectSet, ask: Ask) -> bool:
    return trouble.person == ask.person and trouble.step in (None, ask.hold)


def _reason(trouble: InjectSet) -> str:
    return trouble.text or NOT_READY


def _lifts_s(cast: Cast, ask: Ask, standing: Answer) -> int | None:
    """When the trouble that led to this no-go is over; None if none did."""
    for each in cast.happened.values():
        if each.what == "no-go" and _befalls(each, ask) and _reason(each) == standing.reason:
            return standing.at_s + (each.by_s or LIFTS_S)
    return None
