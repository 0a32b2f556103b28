"""The step that is next in a list, as its band shows it: what is read, what is pressed. It carries nothing out."""

from dataclasses import dataclass

from app.core.custody import NeedWords, needs_words
from app.core.marking import unacknowledged
from app.core.procedure import Designator, Step, StepId
from app.core.situation import Situation, StepState
from app.core.times import clock
from app.web.keys import NewKey
from app.web.views.figures import meters
from app.web.views.step_progress import (
    Call,
    Caller,
    Count,
    Hold,
    Press,
    Reader,
    Reading,
    call,
    confirm,
    count,
    hold,
    readers,
    readings,
)
from app.web.views.step_words import (
    Signal,
    awaited_by,
    cautions,
    is_revised,
    notes_on,
    tag_words,
    takes_words,
    waits_words,
)


@dataclass(frozen=True, slots=True)
class Lift:
    """A no-go that stands and can be lifted here, which needs a reason."""

    caller: Caller
    press: Press
    key: str


@dataclass(frozen=True, slots=True)
class Told:
    """How far the step is, and the buttons that follow from it.

    Attributes:
        answers, marks, all_at_once: the buttons of its form beside those of the readers, in the order of their turn.
    """

    readers: tuple[Reader, ...]
    hold: Hold | None
    lifts: tuple[Lift, ...]
    count: Count | None
    call: Call | None
    answers: tuple[Press, ...]
    marks: tuple[Press, ...]
    all_at_once: Press | None


@dataclass(frozen=True, slots=True)
class Keys:
    """A key for each form of the band."""

    press: str
    more: str
    no_go: str
    accept: str


@dataclass(frozen=True, slots=True)
class Now:
    """The step that is next in a person's list.

    Attributes:
        state: its state word. waits: what it waits for, in words; empty when it is under way.
        passed: per cent of its duration that has passed.
        tag: ``added`` or ``get-ahead``, empty for planned work. revised: what it takes now and by plan.
        main: what Enter presses, as it is sent; empty when it is the first of the lifts, or there is nothing to press.
        due: `main` again when that is the thing to do now; else empty, and no button stands out.
        primary: nothing is open before it.
        asked: who confirms it, in words, while it was not called.
    """

    id: StepId
    task: str
    number: int
    count_of: int
    text: str
    tag: str
    revised: str
    who: str
    state: str
    waits: str
    awaited_by: str
    warning: str
    signals: tuple[Signal, ...]
    noted: tuple[str, ...]
    readings: tuple[Reading, ...]
    told: Told
    main: str
    due: str
    primary: bool
    asked: str
    started: str | None
    may_put_off: bool
    task_id: str
    needs: tuple[NeedWords, ...]
    passed: float
    keys: Keys


def now(situation: Situation, number: int, new_key: NewKey, person: Designator | None, own: Designator | None) -> Now:
    """`person`: of whose band, None for that of nobody. `own`: who presses, at their own console; None at the Desk."""
    step = situation.network.steps[number]
    task = situation.procedure.task(step.task)
    state = situation.states[number]
    primary = state is StepState.UNDER_WAY
    told = _told(situation, number, own, new_key)
    main = _main(told, person)
    return Now(
        id=step.id,
        task=task.title,
        number=step.number,
        count_of=len(task.steps),
        text=step.do,
        tag=tag_words(situation, step.task),
        revised=takes_words(situation, number) if is_revised(situation, number) else "",
        who=" and ".join(step.who),
        state=str(state),
        waits=waits_words(situation, number),
        awaited_by=awaited_by(situation, number),
        warning=step.warning,
        signals=cautions(step),
        noted=notes_on(situation, step.id),
        readings=readings(situation, step),
        told=told,
        main=main,
        due=main if primary and _is_due(situation, step, told, main) else "",
        primary=primary,
        asked=f"{step.confirm_by} confirms it." if step.confirm_by and not told.call else "",
        started=_started(situation, step),
        may_put_off=task.may_put_off,
        task_id=task.id,
        needs=needs_words(situation, step.task),
        passed=meters(situation).get(person, 0.0) if person and primary else 0.0,
        keys=Keys(new_key(), new_key(), new_key(), new_key()),
    )


def _started(situation: Situation, step: Step) -> str | None:
    started = situation.state.started.get(step.id)
    return None if started is None else clock(started)


def _is_due(situation: Situation, step: Step, told: Told, main: str) -> bool:
    """Nothing that must come before the step is left, or `main` is that."""
    ready = not unacknowledged(situation, step) and not situation.missing_go(step)
    return ready or main not in {each.do for each in told.marks}


def _told(situation: Situation, number: int, own: Designator | None, new_key: NewKey) -> Told:
    step = situation.network.steps[number]
    found, counted, called = hold(situation, number, own), count(situation, step), call(situation, step)
    callers = found.callers if found else ()
    goes = [each.press for each in callers if each.press]
    confirms = [confirm(step, own)] if called and called.confirms else []
    return Told(
        readers(situation, step, own),
        found,
        tuple(Lift(each, each.lifts, new_key()) for each in callers if each.lifts),
        counted,
        called,
        (*goes, *(each for each in confirms if each)),
        _marks(step, counted, called),
        _all_at_once(counted),
    )


def _marks(step: Step, counted: Count | None, called: Call | None) -> tuple[Press, ...]:
    """What completes the step, or counts one more of it. What was called can be called again with other values."""
    if called:
        return (Press("mark", "Call it again"),) if step.record else ()
    if counted and counted.next:
        return (Press(f"count:{counted.next}", f"{counted.next} of {counted.of}"),)
    return (Press("mark", "Done"),)


def _all_at_once(counted: Count | None) -> Press | None:
    if counted is None or counted.next is None:
        return None
    return Press("mark", f"All {counted.of}")


def _main(told: Told, person: Designator | None) -> str:
    """A warning is read before a go is given, and a go is given before a mark. The band's own person reads first."""
    readers = [each.press for each in told.readers if each.press]
    own = [each for each in readers if each.do == f"acknowledge:{person}"]
    first = [*own, *readers, *told.answers]
    if first:
        return first[0].do
    if told.lifts:
        return ""
    return told.marks[0].do if told.marks else ""
