"""What simulated people do about steps: warnings read, actions counted, marks, confirmations. See `simulating`."""

from collections.abc import Iterator

from app.core.commands import Command, GiveGo, GiveNoGo, MarkStep
from app.core.commands_live import AcknowledgeWarning, ConfirmStep, CountAction, RaiseFlag
from app.core.commands_rehearsal import NoteInjectDone
from app.core.completing import next_action
from app.core.events_rehearsal import InjectSet
from app.core.marking import Values, unacknowledged
from app.core.player_draws import takes_s
from app.core.player_readings import bad_value, good_value
from app.core.procedure import Designator, Step
from app.core.progress import Called
from app.core.shares import between
from app.core.simulating_asks import Ask, answer_act
from app.core.simulating_cast import Act, Cast, begins_s, can_begin, not_before
from app.core.situation import Situation

READS_S = (5, 25)
CONFIRMS_S = (10, 40)
"""How long after it could be done somebody says it: our own, no source."""


def step_acts(situation: Situation, cast: Cast) -> Iterator[Act]:
    """What comes next about each step that can begin, and each that was called complete."""
    called = situation.state.progress.called
    for number in can_begin(situation):
        step, start_s = situation.network.steps[number], begins_s(situation, number)
        yield from _reads(situation, cast, step, start_s)
        yield from _answers(situation, cast, step, start_s)
        if step.id not in called and cast.play(step.who):
            yield from _works(situation, cast, number, start_s)
    for name, call in called.items():
        if not situation.missing_go(situation.step(name)):
            yield from _confirms(situation, cast, situation.step(name), call)


def _reads(situation: Situation, cast: Cast, step: Step, start_s: int) -> Iterator[Act]:
    for person in unacknowledged(situation, step):
        if person in cast.players:
            at_s = start_s + between(cast.seed, *READS_S, "reads", step.id, person)
            yield Act(at_s, AcknowledgeWarning(step.id, person), person)


def _answers(situation: Situation, cast: Cast, step: Step, start_s: int) -> Iterator[Act]:
    """At a hold that is reached."""
    for person in step.go:
        if person in cast.players:

            def say(go: bool, reason: str, who: Designator = person) -> Command:
                return GiveGo(step.id, who, reason) if go else GiveNoGo(step.id, who, reason)

            ask = Ask(step.id, step.id, person, start_s, situation.state.answer(step.id, person))
            act = answer_act(cast, ask, say)
            if act is not None:
                yield act


def _confirms(situation: Situation, cast: Cast, step: Step, call: Called) -> Iterator[Act]:
    if step.confirm_by in cast.players and step.confirm_by is not None and call.confirmed_s is None:
        known_s = not_before(situation, step, max(call.at_s, call.accepted_s or 0))
        at_s = known_s + between(cast.seed, *CONFIRMS_S, "confirms", step.id, call.at_s)
        yield Act(at_s, ConfirmStep(step.id, step.confirm_by), step.confirm_by)


# Work


def _works(situation: Situation, cast: Cast, number: int, start_s: int) -> Iterator[Act]:
    """The next action counted; else the trouble that waits for the step's end, or its mark."""
    step = situation.network.steps[number]
    if unacknowledged(situation, step) or situation.missing_go(step):
        return
    ready_s = start_s + _lasts_s(situation, cast, number)
    by = step.who[0] if step.who else ""
    action = next_action(situation, step)
    if action is not None and step.count is not None and action < step.count:
        at_s = start_s + round((ready_s - start_s) * action / step.count)
        yield Act(not_before(situation, step, at_s), CountAction(step.id, action), by)
        return
    at_s = not_before(situation, step, ready_s)
    trouble = next((each for each in cast.waiting("delay", "failed step", step=step.id) if each.from_s <= at_s), None)
    if trouble is None:
        yield _mark(cast, step, action, at_s, by)
    elif trouble.what == "delay":
        yield Act(at_s, NoteInjectDone(trouble.inject), by)
    else:
        yield Act(at_s, RaiseFlag(_failed_words(step, trouble), step.id, by or None), by, trouble.inject)


def _lasts_s(situation: Situation, cast: Cast, number: int) -> int:
    """Of all attempts so far and this one, with what has delayed them."""
    step = situation.id(number)
    attempts = len(cast.over("failed step", step)) + 1
    drawn_s = sum(takes_s(situation, number, cast.seed, attempt) for attempt in range(attempts))
    return drawn_s + sum(each.by_s for each in cast.over("delay", step))


def _failed_words(step: Step, trouble: InjectSet) -> str:
    return f"{step.do} failed{f': {trouble.text}' if trouble.text else ''}"[:1_000]


def _mark(cast: Cast, step: Step, action: int | None, at_s: int, by: str) -> Act:
    wrong = next((each for each in cast.waiting("wrong reading", step=step.id) if each.from_s <= at_s), None)
    values = _values(cast, step, wrong)
    done = MarkStep(step.id, values) if action is None else CountAction(step.id, action, values)
    return Act(at_s, done, by, None if wrong is None else wrong.inject)


def _values(cast: Cast, step: Step, wrong: InjectSet | None) -> Values:
    found = []
    for value in step.record:
        reading = good_value(value, cast.seed, step.id)
        if wrong is not None and wrong.name == value.name:
            reading = bad_value(value) if wrong.value is None else wrong.value
        found.append((value.name, reading))
    return tuple(found)
