"""The Desk: a band per person, with the step now, the button that marks it, and what comes next."""

from collections.abc import Callable
from dataclasses import dataclass

from app.core.marking import undoable
from app.core.procedure import Designator, Step, StepId
from app.core.situation import Situation, StepState
from app.core.times import clock, clock_short, duration
from app.web.charts import Strip, axis, strip
from app.web.views.figures import Lead, lead, meters

NEXT_SHOWN = 3
NewKey = Callable[[], str]


@dataclass(frozen=True, slots=True)
class Signal:
    """A line before the step: ``WARNING``, ``CAUTION``, ``NOTE`` or ``HOLD``; `tone` picks colour and edge."""

    word: str
    tone: str
    text: str


@dataclass(frozen=True, slots=True)
class Reading:
    """A value to type: its name, unit and tolerance in words, and the id of its input."""

    id: str
    name: str
    unit: str
    tolerance: str


@dataclass(frozen=True, slots=True)
class GoButton:
    """One person's answer at a hold: `answer` is what they said so far, in words."""

    person: Designator
    answer: str
    is_go: bool
    key: str


@dataclass(frozen=True, slots=True)
class NextStep:
    id: StepId
    text: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Undo:
    step: StepId
    text: str
    at: str
    key: str


@dataclass(frozen=True, slots=True)
class Now:
    """The step that is next in a person's list.

    Attributes:
        state: its state word. waits: what it waits for, in words; empty when it is under way.
        fig: the name of its timer figure. passed: per cent of its duration that has passed.
        primary: whether marking it is the thing to do now: nothing is open before it.
    """

    id: StepId
    task: str
    number: int
    count: int
    text: str
    who: str
    state: str
    waits: str
    awaited_by: str
    signals: tuple[Signal, ...]
    readings: tuple[Reading, ...]
    asks: tuple[GoButton, ...]
    all_go: bool
    is_hold: bool
    primary: bool
    confirm_by: str | None
    actions: int | None
    started: str | None
    may_put_off: bool
    task_id: str
    passed: float
    key: str
    key_more: str


@dataclass(frozen=True, slots=True)
class Band:
    """One person on the Desk. `digit` is the key that chooses it, None from the tenth on."""

    designator: str
    does: str
    digit: int | None
    lead: Lead
    now: Now | None
    coming: tuple[NextStep, ...]
    left: int
    undo: Undo | None
    strip: Strip | None


@dataclass(frozen=True, slots=True)
class Desk:
    bands: tuple[Band, ...]


def desk(situation: Situation, new_key: NewKey) -> Desk:
    """A band for each of the crew in file order, and one for the steps of nobody while any is open or done."""
    limit = situation.procedure.limits.finish_s
    scale = axis(situation.plan.end_s, situation.projection.end_s, limit)
    last = undoable(situation)
    bands = [
        _band(situation, seat, new_key, last, strip(situation, seat, scale))
        for seat in range(len(situation.network.crew))
    ]
    nobody = _nobody(situation)
    if nobody:
        bands.append(_nobody_band(situation, nobody, new_key, last, len(bands)))
    return Desk(tuple(bands))


def band(situation: Situation, designator: Designator, new_key: NewKey) -> Band:
    """One person's band alone. Raises ValueError for somebody who is not of the crew."""
    seat = situation.network.crew.index(designator)
    return _band(situation, seat, new_key, undoable(situation), None)


def _band(situation: Situation, seat: int, new_key: NewKey, last: frozenset[int], drawn: Strip | None) -> Band:
    person = situation.procedure.crew[seat]
    view = situation.crew[seat]
    open_steps = [step for step in situation.network.lists[seat] if situation.is_open(step)]
    own = frozenset(number for number in last if seat in situation.network.people[number])
    return Band(
        designator=person.designator,
        does=person.does,
        digit=seat + 1 if seat < 9 else None,
        lead=lead(view.lead_s, situation.procedure.on_plan_within_s),
        now=_now(situation, open_steps[0], new_key, person.designator) if open_steps else None,
        coming=tuple(_next(situation, step) for step in open_steps[1 : 1 + NEXT_SHOWN]),
        left=max(0, len(open_steps) - 1 - NEXT_SHOWN),
        undo=_undo(situation, own, new_key),
        strip=drawn,
    )


def _nobody(situation: Situation) -> list[int]:
    return [step for step in situation.network.order if not situation.network.people[step]]


def _nobody_band(situation: Situation, steps: list[int], new_key: NewKey, last: frozenset[int], seat: int) -> Band:
    open_steps = sorted(
        (step for step in steps if situation.is_open(step)), key=lambda step: situation.projection.times(step)
    )
    return Band(
        designator="Nobody",
        does="waits and steps without a person",
        digit=seat + 1 if seat < 9 else None,
        lead=Lead("", "even"),
        now=_now(situation, open_steps[0], new_key, None) if open_steps else None,
        coming=tuple(_next(situation, step) for step in open_steps[1 : 1 + NEXT_SHOWN]),
        left=max(0, len(open_steps) - 1 - NEXT_SHOWN),
        undo=_undo(situation, frozenset(last & set(steps)), new_key),
        strip=None,
    )


def _now(situation: Situation, number: int, new_key: NewKey, person: Designator | None) -> Now:
    step = situation.network.steps[number]
    task = situation.procedure.task(step.task)
    state = situation.states[number]
    started = situation.state.started.get(step.id)
    return Now(
        id=step.id,
        task=task.title,
        number=step.number,
        count=len(task.steps),
        text=step.do,
        who=" and ".join(step.who),
        state=str(state),
        waits=waits_words(situation, number),
        awaited_by=_awaited_by(situation, number),
        signals=signals(situation, step, number),
        readings=tuple(_reading(step, index) for index in range(len(step.record))),
        asks=asks(situation, step, new_key) if not situation.open_before(number) else (),
        all_go=not situation.missing_go(step),
        is_hold=bool(step.go),
        primary=state is StepState.UNDER_WAY,
        confirm_by=step.confirm_by,
        actions=step.count,
        started=None if started is None else clock(started),
        may_put_off=task.may_put_off,
        task_id=task.id,
        passed=meters(situation).get(person, 0.0) if person and state is StepState.UNDER_WAY else 0.0,
        key=new_key(),
        key_more=new_key(),
    )


def signals(situation: Situation, step: Step, number: int) -> tuple[Signal, ...]:
    """Warnings before cautions before notes, then the hold."""
    found = []
    if step.warning:
        found.append(Signal("WARNING", "warning", step.warning))
    if step.caution:
        found.append(Signal("CAUTION", "caution", step.caution))
    if step.note:
        found.append(Signal("NOTE", "note", step.note))
    if step.go:
        found.append(Signal("HOLD", "hold", _hold_words(situation, step, number)))
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


def asks(situation: Situation, step: Step, new_key: NewKey) -> tuple[GoButton, ...]:
    return tuple(
        GoButton(
            person=person,
            answer=answer_words(situation, step.id, person),
            is_go=person not in situation.missing_go(step),
            key=new_key(),
        )
        for person in step.go
    )


def _reading(step: Step, index: int) -> Reading:
    value = step.record[index]
    bounds = [f"{bound:g}" for bound in (value.low, value.high) if bound is not None]
    if value.low is not None and value.high is not None:
        tolerance = f"{bounds[0]} to {bounds[1]}"
    elif bounds:
        tolerance = f"{'from' if value.low is not None else 'up to'} {bounds[0]}"
    else:
        tolerance = ""
    return Reading(f"value-{step.task}-{step.number}-{index}", value.name, value.unit, tolerance)


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


def _next(situation: Situation, number: int) -> NextStep:
    step = situation.network.steps[number]
    notes = []
    if step.go:
        notes.append(f"hold: go from {' and '.join(step.go)}")
    others = _others(situation, number, situation.open_before(number))
    if others:
        notes.append(f"waits for {' and '.join(others)}")
    awaited = _awaited_by(situation, number)
    return NextStep(step.id, step.do, (*notes, awaited) if awaited else tuple(notes))


def _awaited_by(situation: Situation, number: int) -> str:
    people = _others(situation, number, followers_of(situation, number))
    return f"{' and '.join(people)} wait{'' if len(people) > 1 else 's'} for this" if people else ""


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


def _others(situation: Situation, number: int, steps: list[int]) -> list[Designator]:
    """The people of these steps who are not of step `number`, in file order."""
    own = situation.network.steps[number].who
    people = {person for each in steps for person in situation.network.steps[each].who if person not in own}
    return [person for person in situation.network.crew if person in people]


def _undo(situation: Situation, own: frozenset[int], new_key: NewKey) -> Undo | None:
    if not own or situation.state.ended_s is not None:
        return None
    number = max(own, key=lambda each: situation.state.done[situation.id(each)].seq)
    step = situation.network.steps[number]
    return Undo(step.id, step.do, clock(situation.facts.done[number]), new_key())


def planned_words(step: Step) -> str:
    """``8m``, or ``8m (6m to 14m)`` when three points are given."""
    takes = step.takes
    if takes.optimistic_s is None or takes.pessimistic_s is None:
        return duration(takes.likely_s)
    return f"{duration(takes.likely_s)} ({duration(takes.optimistic_s)} to {duration(takes.pessimistic_s)})"
