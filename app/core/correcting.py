"""Correcting a mark: another time or other values, with a reason. It reopens nothing and completes nothing."""

from collections.abc import Iterator

from app.core.commands import Refusal, said
from app.core.commands_live import CorrectMark
from app.core.events import Event
from app.core.events_progress import MarkCorrected
from app.core.marking import (
    Values,
    after_its_goes,
    after_its_start,
    find,
    titled,
    values_of,
)
from app.core.reasons import named
from app.core.situation import Situation
from app.core.state import Done
from app.core.times import clock
from app.core.words_live import outside, value_words


def correct(situation: Situation, command: CorrectMark, at_s: int) -> tuple[Event, ...]:
    """`at_s`, the moment of the order, becomes the time of the mark unless that is kept; values are merged by name.

    Raises:
        Refusal: the step is not done, nothing changes, a value is out of tolerance, or the new time can't be.
    """
    number = find(situation, command.step)
    step, mark = situation.network.steps[number], situation.state.done.get(command.step)
    if mark is None:
        raise Refusal("not-done", f"{titled(situation, number)} is not done, so there is no mark to correct.")
    new_s = mark.at_s if command.keep_time else at_s
    values = _merged(situation, number, mark, values_of(step, command.values))
    if (new_s, values) == (mark.at_s, mark.values):
        raise Refusal("unchanged", f"{titled(situation, number)} is marked so already; nothing would change.")
    if new_s != mark.at_s:
        _time_can_be(situation, number, mark, new_s)
    why = said(command.reason, f"Say why the mark of {titled(situation, number)} is corrected.")
    return (MarkCorrected(step.id, mark.at_s, new_s, mark.values, values, why),)


def _merged(situation: Situation, number: int, mark: Done, given: Values) -> Values:
    """The old values with the given ones in place of those of the same names."""
    step, old = situation.network.steps[number], dict(mark.values)
    new = tuple((name, reading) for name, reading in given if old.get(name) != reading)
    out = outside(step, new)
    if out:
        what = value_words(step, out[0], dict(new)[out[0]])
        sentence = f"{what} is out of tolerance; reopen {titled(situation, number)} and call it again"
        raise Refusal("out-of-tolerance", f"{sentence}: the lead must accept it.")
    return tuple((old | dict(new)).items())


def _time_can_be(situation: Situation, number: int, mark: Done, new_s: int) -> None:
    """Refuses a time that the rest of the record contradicts, and names what to correct first."""
    after_its_goes(situation, situation.network.steps[number], new_s)
    after_its_start(situation, number, new_s)
    _after_its_other_actions(situation, number, mark, new_s)
    if mark.ordered_because is None:
        _after_what_it_waits_for(situation, number, new_s)
    _before_what_waits_for_it(situation, number, new_s)


def _after_its_other_actions(situation: Situation, number: int, mark: Done, new_s: int) -> None:
    """Actions that were counted at the moment of the mark go with it to its new time (see `fold`)."""
    step = situation.network.steps[number]
    others = [each.at_s for each in situation.state.progress.counts.get(step.id, ()) if each.at_s != mark.at_s]
    if others and new_s < others[-1]:
        last = f"{len(others)} of {step.count} was counted at {clock(others[-1])}"
        raise Refusal("before-count", f"{last}; {titled(situation, number)} can't be done at {clock(new_s)}.")


def _after_what_it_waits_for(situation: Situation, number: int, new_s: int) -> None:
    for earlier, wait_s in situation.prerequisites(number):
        finish_s = situation.facts.done.get(earlier)
        if finish_s is not None and new_s < finish_s + wait_s:
            wait = f", and the wait after it runs until {clock(finish_s + wait_s)}" if wait_s else ""
            sentence = f"It waits for {named(situation, earlier)}, done at {clock(finish_s)}{wait}"
            raise Refusal("before-prerequisite", f"{sentence}; correct that first, or give a later time.")


def _before_what_waits_for_it(situation: Situation, number: int, new_s: int) -> None:
    """Nothing of a step that waits for this one may be known from before it: its finish, start, actions, answers."""
    for later, state in enumerate(situation.states):
        mark = situation.state.done.get(situation.id(later))
        if state is None or later in situation.facts.removed or (mark is not None and mark.ordered_because is not None):
            continue
        waits = [wait_s for earlier, wait_s in situation.prerequisites(later) if earlier == number]
        for what, when_s in _known_of(situation, later) if waits else ():
            if when_s < new_s + max(waits):
                sentence = f"{named(situation, later)} waits for it and {what} at {clock(when_s)}"
                raise Refusal("after-follower", f"{sentence}; correct that first, or give an earlier time.")


def _known_of(situation: Situation, number: int) -> Iterator[tuple[str, int]]:
    """What is recorded of a step, in words, and when."""
    step = situation.network.steps[number]
    if number in situation.facts.done:
        yield "was done", situation.facts.done[number]
    if number in situation.facts.started:
        yield "was started", situation.facts.started[number]
    for counted in situation.state.progress.counts.get(step.id, ())[:1]:
        yield "was counted", counted.at_s
    for person, answer in situation.state.answers.get(step.id, {}).items():
        yield f"{person} answered there", answer.at_s
    if step.id in situation.state.progress.called:
        yield "was called complete", situation.state.progress.called[step.id].at_s
