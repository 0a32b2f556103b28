"""Taking back a slip: the last press of a step's people, be it a mark, a call or a count. It asks for no reason."""

from collections.abc import Mapping
from dataclasses import dataclass

from app.core.commands import Refusal
from app.core.events import Event, StepReopened
from app.core.events_progress import ActionsTakenBack
from app.core.marking import find, holds_to_ask_again, titled
from app.core.procedure import Designator, StepId
from app.core.situation import Situation


@dataclass(frozen=True, slots=True)
class Press:
    """What the last press about a step did.

    Attributes:
        kind: ``mark``, ``call`` or ``count``. at_s: elapsed seconds. seq: of its event; of several, of the last.
        words: ``done``, ``called complete``, ``counted 4 of 8`` or ``counted 5 to 8 of 8``.
    """

    step: StepId
    kind: str
    at_s: int
    seq: int
    words: str


def last_of(situation: Situation, presses: Mapping[int, Press], person: Designator | None) -> Press | None:
    """Of what is `undoable`, what UndoMark would take back for this person now; None: for the steps of nobody. None if
    it is nothing.

    The last press of a person who pressed for a joint step is not theirs to take back any more once the other one has
    gone on.
    """
    seat = -1 if person is None else situation.network.crew.index(person)
    own = [press for number, press in presses.items() if seat in _seats(situation, number)]
    return max(own, key=lambda press: press.seq, default=None)


def undoable(situation: Situation) -> dict[int, Press]:
    """By step number, the presses that are the last one (the highest seq) of each of their step's people."""
    seqs = _seqs(situation)
    last: dict[int, int] = {}
    for number, seq in seqs.items():
        for seat in _seats(situation, number):
            if seq > last.get(seat, 0):
                last[seat] = seq
    return {
        number: _press(situation, number)
        for number, seq in seqs.items()
        if all(last[seat] == seq for seat in _seats(situation, number))
    }


def _seats(situation: Situation, number: int) -> tuple[int, ...]:
    return situation.network.people[number] or (-1,)


def _seqs(situation: Situation) -> dict[int, int]:
    """The seq of the last press about each step. Of a step that is done or called, the counts before are not the last.

    Each page asks this of all the steps that are done, so no more is made of them than a number.
    """
    state, index = situation.state, situation.network.index
    found = {
        index[step]: actions[-1].seq
        for step, actions in state.progress.counts.items()
        if actions and situation.is_open(index[step])
    }
    found |= {index[step]: call.seq for step, call in state.progress.called.items()}
    return found | {index[step]: mark.seq for step, mark in state.done.items()}


def _press(situation: Situation, number: int) -> Press:
    """The last press about a step of `_seqs`."""
    state, step = situation.state, situation.id(number)
    if mark := state.done.get(step):
        return Press(step, "mark", mark.at_s, mark.seq, "done")
    if call := state.progress.called.get(step):
        return Press(step, "call", call.at_s, call.seq, "called complete")
    action = state.progress.counts[step][-1]
    return Press(step, "count", action.at_s, action.seq, f"counted {_count_words(situation, step)}")


def _count_words(situation: Situation, step: StepId) -> str:
    last, left = len(situation.state.progress.counts[step]), _left(situation, step)
    of = situation.step(step).count
    return f"{last} of {of}" if last == left + 1 else f"{left + 1} to {last} of {of}"


def _left(situation: Situation, step: StepId) -> int:
    """How many actions stand without those of the last press."""
    actions = situation.state.progress.counts[step]
    return sum(1 for action in actions if action.seq != actions[-1].seq)


def undo(situation: Situation, step: StepId) -> tuple[Event, ...]:
    """Raises Refusal: nothing of the step is done, or its people have gone on."""
    number = find(situation, step)
    if number not in _seqs(situation):
        raise Refusal("not-done", f"{titled(situation, number)} is not done, so there is nothing to undo.")
    press = undoable(situation).get(number)
    if press is None:
        raise Refusal(
            "not-last", f"{titled(situation, number)} is not the last mark of its people; reopen it with a reason."
        )
    if press.kind == "count":
        return (ActionsTakenBack(step, _left(situation, step)),)
    reopened = StepReopened(step, "undone", undone=True, asks_again=holds_to_ask_again(situation, number))
    counted = (ActionsTakenBack(step, _left(situation, step)),) if _counted_with(situation, press) else ()
    return (reopened, *counted)


def _counted_with(situation: Situation, press: Press) -> bool:
    """Whether the last actions were counted by the press that marked or called the step: the event right before it,
    at the same second.
    """
    actions = situation.state.progress.counts.get(press.step, ())
    return bool(actions) and (actions[-1].seq, actions[-1].at_s) == (press.seq - 1, press.at_s)
