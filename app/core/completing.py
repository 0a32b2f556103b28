"""Orders by which a step comes to be done: warnings read, actions counted, marks, calls that wait for somebody.

Each function returns events or refuses. It takes nothing back (`undoing`) and corrects nothing (`correcting`).

What stands before a step is shown in the order warning, caution, note, each before the step that it is about:
MIL-STD-38784, from memory; so is that a caution is for equipment. ANSI Z535.4-2007, 4.14, has WARNING for what could
result in death or serious injury, and CAUTION for minor or moderate injury. Either way a warning is about people, so
here it is the one that each person must acknowledge; no order passes it (our own rule, no source).
"""

from typing import assert_never

from app.core import correcting
from app.core.commands import MarkStep, Refusal, joined, said
from app.core.commands_live import AcceptValues, AcknowledgeWarning, ConfirmStep, CorrectMark, CountAction
from app.core.events import Event, StepMarked
from app.core.events_progress import (
    ActionsDone,
    CompletionCalled,
    StepConfirmed,
    ValuesAccepted,
    WarningAcknowledged,
)
from app.core.marking import Values, bars_of, hold_firm, not_past_a_hold, open_step, titled, values_of
from app.core.procedure import Step, StepId
from app.core.progress import Called
from app.core.situation import Situation
from app.core.times import clock
from app.core.words_live import outside, value_words

CompletingOrder = AcknowledgeWarning | CountAction | AcceptValues | ConfirmStep | CorrectMark


def order(situation: Situation, command: CompletingOrder, at_s: int) -> tuple[Event, ...]:
    """Raises Refusal."""
    match command:
        case AcknowledgeWarning():
            return _acknowledge(situation, command)
        case CountAction():
            return _count(situation, command, at_s)
        case AcceptValues():
            return _accept(situation, command, at_s)
        case ConfirmStep():
            return _confirm(situation, command, at_s)
        case CorrectMark():
            return correcting.correct(situation, command, at_s)
        case _:
            assert_never(command)


def _acknowledge(situation: Situation, command: AcknowledgeWarning) -> tuple[Event, ...]:
    """Reading ahead is good: what the step waits for does not matter here."""
    number = open_step(situation, command.step)
    step = situation.network.steps[number]
    if not step.warning:
        raise Refusal("no-warning", f"{titled(situation, number)} has no warning.")
    if command.person not in step.who:
        sentence = f"{command.person} is not one of the people of {titled(situation, number)}"
        raise Refusal("not-asked", f"{sentence}; only they acknowledge its warning.")
    known = situation.state.progress.acks.get(step.id, {}).get(command.person)
    if known is not None:
        raise Refusal("acknowledged", f"{command.person} acknowledged that warning already, at {clock(known)}.")
    return (WarningAcknowledged(step.id, command.person, command.heard),)


# Marks and calls


def mark(situation: Situation, command: MarkStep, at_s: int) -> tuple[Event, ...]:
    """Of a step of several actions, all that are left are done with the mark, or nothing is."""
    number = open_step(situation, command.step)
    step = situation.network.steps[number]
    hold_firm(situation, number, at_s)
    reason = command.ordered_because
    if reason is not None:
        reason = said(reason, "The lead's order needs a reason.")
    values = values_of(step, command.values)
    passed = _stands_against(situation, number, values, at_s, reason is not None)
    _another_call(situation, number, values, passed)
    return (*_rest(situation, step), _completion(step, values, reason if passed else None))


def _stands_against(situation: Situation, number: int, values: Values, at_s: int, ordered: bool) -> bool:
    """Whether something does that the lead's order passes. Raises Refusal for it where there is no such order."""
    bars = list(bars_of(situation, number, at_s))
    if bars:
        not_past_a_hold(situation, number)
    missing = missing_values(situation.network.steps[number], values)
    wanted = f"{joined(missing)} {'is' if len(missing) == 1 else 'are'} not given" if missing else ""
    if bars and not ordered:
        sentence = f"{titled(situation, number)} must wait: {'; '.join([*bars, *[wanted] * bool(wanted)])}."
        raise Refusal("open-prerequisite", sentence, may_order=True)
    if missing and not ordered:
        raise Refusal("values-missing", f"{titled(situation, number)} records values: {wanted}.", may_order=True)
    return bool(bars or missing)


def _another_call(situation: Situation, number: int, values: Values, passed: bool) -> None:
    """Refuses what was called already, by another station perhaps: it would ask again for what was answered since.

    An order of the lead is another call where the first had none: it passes what has come to stand against that.
    """
    call = situation.state.progress.called.get(situation.id(number))
    if call is None or (passed and call.ordered_because is None):
        return
    if dict(call.values) == dict(values):
        waits = joined(waits_for(situation.network.steps[number], call))
        sentence = f"{titled(situation, number)} was called complete already, at {clock(call.at_s)} by {call.by}"
        raise Refusal("called", f"{sentence}; it is done when {waits}.")


def _completion(step: Step, values: Values, ordered_because: str | None) -> Event:
    """The mark, or the call where somebody else must answer first."""
    if step.confirm_by or outside(step, values):
        return CompletionCalled(step.id, values, ordered_because)
    return StepMarked(step.id, values, ordered_because)


def missing_values(step: Step, values: Values) -> tuple[str, ...]:
    """The values that the step records and that are not among these, each with its unit."""
    given = dict(values)
    return tuple(
        f"“{value.name}” ({value.unit})" if value.unit else f"“{value.name}”"
        for value in step.record
        if value.name not in given
    )


# Counts


def next_action(situation: Situation, step: Step) -> int | None:
    """The number of the action that is counted next; None where nothing is counted, or all of it was."""
    counted = len(situation.state.progress.counts.get(step.id, ()))
    return counted + 1 if step.count is not None and counted < step.count else None


def _rest(situation: Situation, step: Step) -> tuple[Event, ...]:
    first = next_action(situation, step)
    return () if first is None or step.count is None else (ActionsDone(step.id, first, step.count),)


def _count(situation: Situation, command: CountAction, at_s: int) -> tuple[Event, ...]:
    """The last action completes the step as a mark would, if the step's values came with it."""
    number = open_step(situation, command.step)
    step = situation.network.steps[number]
    _in_turn(situation, number, command.number)
    hold_firm(situation, number, at_s)
    bars = list(bars_of(situation, number, at_s))
    if bars:
        raise Refusal("open-prerequisite", f"{titled(situation, number)} must wait: {'; '.join(bars)}.")
    values = values_of(step, command.values)
    counted = ActionsDone(step.id, command.number, command.number)
    if command.number != step.count or missing_values(step, values):
        return (counted,)
    return (counted, _completion(step, values, None))


def _in_turn(situation: Situation, number: int, action: int) -> None:
    """Two stations can't count one action twice, nor leave one out."""
    step = situation.network.steps[number]
    if step.count is None:
        raise Refusal("not-counted", f"{titled(situation, number)} is not counted; mark it.")
    counts = situation.state.progress.counts.get(step.id, ())
    if 1 <= action <= len(counts):
        when = clock(counts[action - 1].at_s)
        raise Refusal(
            "counted", f"{action} of {step.count} was counted already, at {when}: {titled(situation, number)}."
        )
    if action != next_action(situation, step):
        left = f"{len(counts) + 1} of {step.count} is next" if len(counts) < step.count else "all were counted"
        raise Refusal("not-next", f"{action} can't be counted now: {left}: {titled(situation, number)}.")


# Answers to a call


def waits_for(step: Step, call: Called) -> tuple[str, ...]:
    """What is missing before a step that was called is done: ``the lead accepts gap left 9 mm``, ``EV1 confirms``."""
    found = []
    out = outside(step, call.values)
    if out and call.accepted is None:
        said_values = joined(tuple(value_words(step, name, dict(call.values)[name]) for name in out))
        found.append(f"the lead accepts {said_values}")
    if step.confirm_by and call.confirmed_s is None:
        found.append(f"{step.confirm_by} confirms")
    return tuple(found)


def _accept(situation: Situation, command: AcceptValues, at_s: int) -> tuple[Event, ...]:
    number, call = _waiting(situation, command.step, at_s)
    step = situation.network.steps[number]
    if not outside(step, call.values):
        raise Refusal("in-tolerance", f"Nothing that was called of {titled(situation, number)} is out of tolerance.")
    if call.accepted is not None:
        raise Refusal("accepted", f"The values of {titled(situation, number)} were accepted already: {call.accepted}.")
    why = said(command.reason, f"Say why the values of {titled(situation, number)} are accepted.")
    accepted = ValuesAccepted(step.id, why)
    if step.confirm_by and call.confirmed_s is None:
        return (accepted,)
    return (accepted, _marked(situation, number, call, at_s))


def _confirm(situation: Situation, command: ConfirmStep, at_s: int) -> tuple[Event, ...]:
    asked = situation.network.steps[open_step(situation, command.step)].confirm_by
    if command.person != asked:
        who = f"only {asked} does" if asked else "nobody is asked to"
        raise Refusal("not-asked", f"{command.person} can't confirm step {command.step}: {who}.")
    number, call = _waiting(situation, command.step, at_s)
    step = situation.network.steps[number]
    if call.confirmed_s is not None:
        raise Refusal(
            "confirmed", f"{asked} confirmed {titled(situation, number)} already, at {clock(call.confirmed_s)}."
        )
    confirmed = StepConfirmed(step.id, command.person, command.heard)
    if outside(step, call.values) and call.accepted is None:
        return (confirmed,)
    return (confirmed, _marked(situation, number, call, at_s))


def _waiting(situation: Situation, step: StepId, at_s: int) -> tuple[int, Called]:
    """The step's number and its call. Raises Refusal where nothing was called, and for an answer from before it."""
    number = open_step(situation, step)
    call = situation.state.progress.called.get(step)
    if call is None:
        raise Refusal("not-called", f"{titled(situation, number)} was not called complete yet.")
    heard = {"was called complete": call.at_s, "was accepted": call.accepted_s, "was confirmed": call.confirmed_s}
    for what, when in heard.items():
        if when is not None and at_s < when:
            sentence = f"{titled(situation, number)} {what} only at {clock(when)}"
            raise Refusal("before-call", f"{sentence}; this can't be entered at {clock(at_s)}.")
    return number, call


def _marked(situation: Situation, number: int, call: Called, at_s: int) -> Event:
    """The mark that a call has led to. What stood against it when it was called may have come back since."""
    hold_firm(situation, number, at_s)
    bars = list(bars_of(situation, number, at_s))
    if bars:
        not_past_a_hold(situation, number)
    if bars and call.ordered_because is None:
        sentence = f"{titled(situation, number)} can't be done now: {'; '.join(bars)}"
        raise Refusal("open-prerequisite", f"{sentence}. Take the call back, or let the lead order it anew.")
    return StepMarked(situation.id(number), call.values, call.ordered_because)
