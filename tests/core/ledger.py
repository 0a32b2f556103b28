"""The rules of calls, counts, marks and corrections, written down once more from their words. It shares no code with
the core: orders go in, and it says whether each may be given and what is done, called and counted after it.
"""

from dataclasses import replace
from typing import assert_never

from app.core.commands import (
    GiveGo,
    GiveNoGo,
    MarkStep,
    RecordStart,
    ReopenStep,
    SetNotNeeded,
    UndoMark,
)
from app.core.commands_live import AcceptValues, AcknowledgeWarning, ConfirmStep, CorrectMark, CountAction
from app.core.procedure import Step
from tests.core.books import Books, Entry

StepOrder = (
    MarkStep
    | UndoMark
    | ReopenStep
    | CorrectMark
    | AcknowledgeWarning
    | GiveGo
    | GiveNoGo
    | RecordStart
    | SetNotNeeded
    | CountAction
    | AcceptValues
    | ConfirmStep
)


class Ledger(Books):
    """Takes orders, or does not."""

    def give(self, command: StepOrder, at_s: int) -> bool:
        """Whether the order may be given. If so, it is entered."""
        self.orders += 1
        allowed = self._give(command, self.procedure.step(command.step), at_s)
        self.orders -= 0 if allowed else 1
        return allowed

    def _give(self, command: StepOrder, step: Step, at_s: int) -> bool:
        match command:
            case UndoMark():
                return self._undo(step)
            case ReopenStep():
                return self._reopen(step)
            case CorrectMark():
                return self._correct(step, command, at_s)
        if step.id in self.done or step.id in self.not_needed:
            return False
        match command:
            case AcknowledgeWarning(_, person):
                return self._acknowledge(step, person, at_s)
            case GiveGo(_, person, reason) | GiveNoGo(_, person, reason):
                return self._answer(step, person, isinstance(command, GiveGo), reason, at_s)
            case RecordStart():
                return self._start(step, at_s)
            case SetNotNeeded():
                return self._leave_out(step, at_s)
            case CountAction():
                return self._count(step, command, at_s)
            case MarkStep():
                return self._mark(step, command, at_s)
            case AcceptValues() | ConfirmStep():
                return self._answer_call(step, command, at_s)
            case _:
                assert_never(command)

    # Orders about an open step

    def _acknowledge(self, step: Step, person: str, at_s: int) -> bool:
        if not step.warning or person not in step.who or (step.id, person) in self.acks:
            return False
        self.acks[step.id, person] = at_s
        return True

    def _answer(self, step: Step, person: str, go: bool, reason: str, at_s: int) -> bool:
        if person not in step.go or self.barred(step, at_s):
            return False
        stood = self.answers.get((step.id, person))
        if stood is not None and (stood[0] is go or at_s < stood[1] or not reason):
            return False
        self.answers[step.id, person] = (go, at_s)
        return True

    def _start(self, step: Step, at_s: int) -> bool:
        signs = [when for when, _ in self.counts.get(step.id, [])[:1]]
        signs += [self.called[step.id].at_s] if step.id in self.called else []
        if self.barred(step, at_s) or any(when < at_s for when in signs):
            return False
        self.started[step.id] = at_s
        return True

    def _leave_out(self, step: Step, at_s: int) -> bool:
        if not self.all_go(step):
            return False
        self.called.pop(step.id, None)
        self.not_needed[step.id] = at_s
        return True

    def _count(self, step: Step, command: CountAction, at_s: int) -> bool:
        so_far = self.counts.get(step.id, [])
        if step.count is None or command.number != len(so_far) + 1 or command.number > step.count:
            return False
        if not self.firm(step, at_s) or self.barred(step, at_s):
            return False
        self.counts[step.id] = [*so_far, (at_s, self.orders)]
        values = dict(command.values)
        if command.number == step.count and not self.wanting(step, values):
            self._complete(step, Entry(at_s, self.orders, values, False))
        return True

    def _mark(self, step: Step, command: MarkStep, at_s: int) -> bool:
        values, ordered = dict(command.values), command.ordered_because is not None
        barred = self.barred(step, at_s)
        against = barred or self.wanting(step, values)
        if not self.firm(step, at_s) or (against and not ordered) or (barred and self.hold_on_the_way(step)):
            return False
        call = self.called.get(step.id)
        if call is not None and call.values == values and (call.ordered or not against):
            return False
        if step.count is not None:
            so_far = self.counts.get(step.id, [])
            self.counts[step.id] = [*so_far, *[(at_s, self.orders)] * (step.count - len(so_far))]
        self._complete(step, Entry(at_s, self.orders, values, against))
        return True

    def _complete(self, step: Step, entry: Entry) -> None:
        self.completing.add(entry.order)
        if step.confirm_by or self.outside(step, entry.values):
            self.called[step.id] = entry
        else:
            self.called.pop(step.id, None)
            self.done[step.id] = entry

    def _answer_call(self, step: Step, command: AcceptValues | ConfirmStep, at_s: int) -> bool:
        call = self.called.get(step.id)
        if call is None or at_s < max(call.at_s, call.accepted_s or 0, call.confirmed_s or 0):
            return False
        if isinstance(command, AcceptValues):
            call, fits = replace(call, accepted_s=at_s), self.outside(step, call.values) and call.accepted_s is None
        else:
            fits = command.person == step.confirm_by and call.confirmed_s is None
            call = replace(call, confirmed_s=at_s)
        waits = (step.confirm_by and call.confirmed_s is None) or (
            self.outside(step, call.values) and call.accepted_s is None
        )
        barred = self.barred(step, at_s)
        stopped = not self.firm(step, at_s) or (barred and (not call.ordered or self.hold_on_the_way(step)))
        if not fits or (not waits and stopped):
            return False
        if waits:
            self.called[step.id] = call
        else:
            del self.called[step.id]
            self.done[step.id] = replace(call, at_s=at_s, order=self.orders)
        return True

    # Taking back and correcting

    def _wipe(self, step: Step) -> None:
        self.done.pop(step.id, None)
        self.called.pop(step.id, None)
        self.not_needed.pop(step.id, None)
        self.answers = {key: each for key, each in self.answers.items() if key[0] != step.id}

    def _ask_again(self, step: Step) -> None:
        """At the open holds that come after a step which is open again, no go counts any more."""
        after, new = {step.id}, True
        while new:
            found = {one.id for one in self.procedure.steps if any(each.id in after for each, _ in self.before(one))}
            new = not found <= after
            after |= found
        for one, person in list(self.answers):
            if one in after - {step.id} - set(self.done) and self.answers[one, person][0]:
                del self.answers[one, person]

    def _reopen(self, step: Step) -> bool:
        something = step.id in self.done or step.id in self.called or step.id in self.not_needed
        if not something and not self.counts.get(step.id):
            return False
        self._wipe(step)
        self._ask_again(step)
        self.counts.pop(step.id, None)
        return True

    def top(self, step: Step) -> int:
        """The order that gave the last press about a step; 0 for none."""
        entry = self.done.get(step.id) or self.called.get(step.id)
        if entry is not None:
            return entry.order
        actions = self.counts.get(step.id, [])
        return actions[-1][1] if actions and step.id not in self.not_needed else 0

    def _undo(self, step: Step) -> bool:
        mine = [each for each in self.procedure.steps if set(each.who) & set(step.who) or not (each.who or step.who)]
        if self.top(step) == 0 or any(self.top(each) > self.top(step) for each in mine):
            return False
        entry, actions = self.done.get(step.id) or self.called.get(step.id), self.counts.get(step.id, [])
        # An action counted by the order right before, at the same second, counts as of the same press, if that order
        # only counted.
        before = {entry.order, entry.order - 1} - (self.completing - {entry.order}) if entry is not None else set()
        together = bool(actions) and entry is not None and actions[-1][0] == entry.at_s
        if entry is not None and step.id in self.done and (entry.accepted_s, entry.confirmed_s) != (None, None):
            together = False  # An answer made it done, and no answer counts anything.
        if entry is None or (together and actions[-1][1] in before):
            self.counts[step.id] = [each for each in actions if each[1] != actions[-1][1]]
        if entry is not None:
            self._wipe(step)
            self._ask_again(step)
        return True

    def _correct(self, step: Step, command: CorrectMark, at_s: int) -> bool:
        mark = self.done.get(step.id)
        if mark is None:
            return False
        new_s = mark.at_s if command.keep_time else at_s
        values = mark.values | dict(command.values)
        changed = {name: reading for name, reading in values.items() if mark.values.get(name) != reading}
        if (new_s == mark.at_s and not changed) or self.outside(step, changed):
            return False
        if new_s != mark.at_s and not self._time_can_be(step, mark, new_s):
            return False
        self.done[step.id] = replace(mark, at_s=new_s, values=values)
        if step.id in self.counts:
            counts = self.counts[step.id]
            self.counts[step.id] = [(new_s if when == mark.at_s else when, which) for when, which in counts]
        return True

    def _time_can_be(self, step: Step, mark: Entry, new_s: int) -> bool:
        known = [(self.done[each.id].at_s + wait_s) for each, wait_s in self.before(step) if each.id in self.done]
        too_early = not mark.ordered and any(new_s < when for when in known)
        over = set(self.not_needed)
        waiting = [one for one in self.procedure.steps if one.id not in over and not self._is_ordered(one)]
        too_late = any(
            when < new_s + wait_s
            for later in waiting
            for each, wait_s in self.before(later)
            if each.id == step.id
            for when in self._known_of(later)
        )
        return self.by_then(step, new_s, mark.at_s) and not too_early and not too_late

    def _is_ordered(self, step: Step) -> bool:
        return step.id in self.done and self.done[step.id].ordered

    def _known_of(self, step: Step) -> list[int]:
        """Every moment at which something is recorded of a step."""
        known = [entry.at_s for entry in (self.done.get(step.id), self.called.get(step.id)) if entry is not None]
        known += [when for when, _ in self.counts.get(step.id, [])]
        known += [when for (one, _), (_, when) in self.answers.items() if one == step.id]
        return known + ([self.started[step.id]] if step.id in self.started else [])
