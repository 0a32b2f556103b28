"""A step in words for the screens: its signals, what it waits for, who waits for it, what was answered at a hold."""

from dataclasses import dataclass

from app.core.procedure import Designator, Step, StepId, TaskId
from app.core.situation import Situation, StepState
from app.core.times import clock, clock_short, duration

NOTES_SHOWN = 3
"""So many notes, the newest, stand at a step or a person; the rest stand in the log. Our own bound, no source."""


@dataclass(frozen=True, slots=True)
class Signal:
    """A line before the step: ``WARNING``, ``CAUTION``, ``NOTE`` or ``HOLD``; `tone` picks colour and edge."""

    word: str
    tone: str
    text: str


def signals(situation: Situation, step: Step, number: int) -> tuple[Signal, ...]:
    """Warnings before cautions before notes, then the hold.

    The order, and that each stands before the step it is about: MIL-STD-38784, from memory; see `core.completing`.
    """
    hold = (Signal("HOLD", "hold", _hold_words(situation, step, number)),) if step.go else ()
    return (*alerts(step), *hold)


def alerts(step: Step) -> tuple[Signal, ...]:
    """Warnings before cautions before notes, as the file has them."""
    warning = (Signal("WARNING", "warning", step.warning),) if step.warning else ()
    return (*warning, *cautions(step))


def cautions(step: Step) -> tuple[Signal, ...]:
    """Cautions before notes: what stands between the warning and the hold."""
    found = []
    if step.caution:
        found.append(Signal("CAUTION", "caution", step.caution))
    if step.note:
        found.append(Signal("NOTE", "note", step.note))
    return tuple(found)


def _hold_words(situation: Situation, step: Step, number: int) -> str:
    missing = situation.missing_go(step)
    if number in situation.facts.done:
        return f"Go was given by {' and '.join(step.go)}."
    said = [f"{person}: {answer_words(situation, step.id, person)}" for person in step.go if person not in missing]
    refused = [
        f"{person}: {answer_words(situation, step.id, person)}"
        for person in missing
        if situation.state.answer(step.id, person)
    ]
    lead_in = f"Go needed from {' and '.join(missing)}." if missing else "All are go."
    return " ".join([lead_in, *(f"{each}." for each in (*refused, *said))])


def answer_words(situation: Situation, step: StepId, person: Designator) -> str:
    """``go 02:13:50``, ``NO-GO 02:13:50, rail is bent`` or ``no answer yet``."""
    answer = situation.state.answer(step, person)
    if answer is None:
        return "no answer yet"
    if answer.go:
        return f"go {clock(answer.at_s)}"
    return f"NO-GO {clock(answer.at_s)}, {answer.reason}"


def waits_words(situation: Situation, number: int) -> str:
    """What the step waits for: open prerequisites, else a wait, a time or a window. Empty if it does not wait."""
    if situation.states[number] is not StepState.WAITING:
        return ""
    start = clock_short(situation.projection.times(number)[0])
    blockers = situation.open_before(number)
    if blockers:
        return f"Waits for {_blocked_by(situation, blockers)}, about {start}"
    step = situation.network.steps[number]
    if number in situation.projection.misses:
        return f"No opening of its window “{step.within}” is left that it fits"
    if situation.network.spans[number] is not None:
        return f"Waits for its window “{step.within}”, {start}"
    return f"Waits until {start}"


def _blocked_by(situation: Situation, blockers: list[int]) -> str:
    """The prerequisite that will be met last, and how many other tasks are waited for."""
    steps = situation.network.steps
    latest = steps[max(blockers, key=lambda earlier: _finish(situation, earlier))]
    who = f"{' and '.join(latest.who)}: " if latest.who else ""
    more = len({steps[each].task for each in blockers} - {latest.task})
    return f"{who}{latest.do}" + (f" and {more} more task{'s' if more > 1 else ''}" if more else "")


def waits_for_others(situation: Situation, number: int) -> bool:
    """Whether it waits for more than its own people's step before it."""
    step = situation.network.steps[number]
    blockers = situation.open_before(number)
    return not blockers or any(set(situation.network.steps[each].who) - set(step.who) for each in blockers)


def _finish(situation: Situation, number: int) -> int:
    return situation.projection.finish_s[number] or 0


def followers_of(situation: Situation, number: int) -> list[int]:
    """The open steps that wait for this one, of a whole task only for its last step."""
    task = situation.network.steps[number].task
    found = []
    for later in situation.prepared.followers[number]:
        if situation.is_open(later):
            links = situation.network.before[later]
            same_task = [earlier for earlier, _ in links if situation.network.steps[earlier].task == task]
            if number == max(same_task):
                found.append(later)
    return found


def others_of(situation: Situation, number: int, steps: list[int]) -> list[Designator]:
    """The people of these steps who are not of step `number`, in file order."""
    own = situation.network.steps[number].who
    people = {person for each in steps for person in situation.network.steps[each].who if person not in own}
    return [person for person in situation.network.crew if person in people]


def awaited_by(situation: Situation, number: int) -> str:
    people = others_of(situation, number, followers_of(situation, number))
    return f"{' and '.join(people)} wait{'' if len(people) > 1 else 's'} for this" if people else ""


def takes_words(situation: Situation, number: int) -> str:
    """As the file says, or ``40m, plan 30m`` once it was revised; no plan knows an added step: ``40m, was 30m``."""
    step = situation.network.steps[number]
    if not is_revised(situation, number):
        return planned_words(step)
    before = "was" if situation.procedure.task(step.task).added else "plan"
    return f"{duration(situation.network.takes_s[number])}, {before} {duration(step.takes.likely_s)}"


def is_revised(situation: Situation, number: int) -> bool:
    return situation.network.takes_s[number] != situation.network.steps[number].takes.likely_s


def tag_words(situation: Situation, task: TaskId) -> str:
    """``added`` or ``get-ahead`` for work that is not in the plan; empty for the rest."""
    found = situation.procedure.task(task)
    return "added" if found.added else "get-ahead" if found.get_ahead else ""


def planned_words(step: Step) -> str:
    """``8m``, or ``8m (6m to 14m)`` when three points are given."""
    takes = step.takes
    if takes.optimistic_s is None or takes.pessimistic_s is None:
        return duration(takes.likely_s)
    return f"{duration(takes.likely_s)} ({duration(takes.optimistic_s)} to {duration(takes.pessimistic_s)})"


def notes_on(situation: Situation, about: StepId | Designator) -> tuple[str, ...]:
    """The newest notes on a step or a person, a line each: ``00:40:00 Ines: feels shut``; how many more there are."""
    notes = situation.state.notes.get(about, ())
    shown = tuple(f"{clock(note.at_s)} {note.by}: {note.text}" for note in notes[-NOTES_SHOWN:])
    older = len(notes) - len(shown)
    return (*shown, f"and {older} older in the log") if older else shown
