"""Hypothesis strategies: runs of every kind that leave work, and what people type in them."""

from dataclasses import replace

from hypothesis import assume
from hypothesis import strategies as st

from app.core.checking import check
from app.core.events import Event, NoteAdded, StartRecorded, StepAdded, StepNotNeeded, TakesRevised, TasksPutOff
from app.core.events_progress import ActionsDone, CompletionCalled
from app.core.fold import fold
from app.core.network import Cycle, build
from app.core.passes import plan
from app.core.procedure import After, Procedure, Span, Window
from app.core.situation import Prepared, Situation
from tests.core.building import procedure, step, task
from tests.core.guesses import procedures, runs
from tests.core.guesses_late import late_procedures
from tests.core.running import logged
from tests.writing.full import full_procedures

_TYPED = [
    "rain", "lost.", "a\nb",
    "tab\there", "\x07bell", "\u202eback", "\x85", "# no", "- x: y", "‘q’ \"q\"", "é漢🚀", "x" * 2_000,
]  # fmt: skip
"""Reasons, notes and words of steps; a run takes signs that no file may hold."""


@st.composite
def _crossing(draw: st.DrawFn) -> Procedure:
    """Tasks whose steps wait for one another's: sound in the order of the file, though perhaps in no other."""
    made = []
    for number in range(draw(st.integers(2, 3))):
        steps = [
            step(draw(st.integers(1, 20)), who=draw(st.sampled_from([("EV1",), ("EV1",), ("EV2",), ("ARM",)])))
            for _ in range(draw(st.integers(2, 3)))
        ]
        made.append(task(f"t{number}", steps, may_put_off=draw(st.booleans())))
    for _ in range(draw(st.integers(2, 6))):
        one, other = draw(st.sampled_from(made)), draw(st.sampled_from(made))
        if one.id == other.id:
            continue
        place = draw(st.integers(0, len(one.steps) - 1))
        if place:  # What a first step waits for is its task's.
            steps, number = list(one.steps), draw(st.integers(1, len(other.steps)))
            steps[place] = replace(steps[place], after=(*steps[place].after, After(other.id, number)))
            made[made.index(one)] = replace(one, steps=tuple(steps))
    found = procedure(*made, crew=("EV1", "EV2", "ARM"))
    try:
        build(found)
    except Cycle:
        assume(False)
    return found


@st.composite
def _tight(draw: st.DrawFn) -> Procedure:
    """One window that closes with the last of its steps: any later, and no opening is left for that one."""
    made = draw(late_procedures(windows=False))
    network = build(made)
    ends_s = {step.id: plan(network).times(number)[1] for number, step in enumerate(network.steps)}
    chosen = draw(st.sets(st.sampled_from(sorted(ends_s)), min_size=1, max_size=3))
    closes_s = max(1, *(ends_s[step] for step in chosen))
    tasks = tuple(
        replace(one, steps=tuple(replace(step, within="w" if step.id in chosen else None) for step in one.steps))
        for one in made.tasks
    )
    return replace(made, tasks=tasks, windows=(Window("w", (Span(0, closes_s),)),))


@st.composite
def sound_procedures(draw: st.DrawFn) -> Procedure:
    """Of every kind that there are strategies for."""
    kinds = [procedures(), full_procedures(), _crossing(), _tight()]
    made = draw(st.one_of(kinds))
    tasks = tuple(replace(one, worth=one.worth if one.may_put_off else 0) for one in made.tasks)
    made = replace(made, tasks=tasks)
    assume(all(fault.remark for fault in check(made)))
    return made


@st.composite
def leavings(draw: st.DrawFn, of: Procedure) -> Situation:
    """A run of it that stands somewhere: marks, work put off and taken, and then whatever else may be in a log."""
    _, log, at_s = draw(runs(of))
    events = [
        event
        for _ in range(draw(st.integers(0, 5)))
        if (event := _more(draw, of, Situation(Prepared(of), fold(log), at_s)))
    ]
    for number in range(draw(st.integers(0, 2))):
        links = draw(
            st.lists(st.sampled_from([(one.id, draw(st.sampled_from([None, 1]))) for one in of.tasks]), max_size=2)
        )
        who = draw(st.sampled_from([(), ("EV1",), ("EV1", "EV2")]))
        events.append(
            StepAdded(f"added-{number + 1}", _typed(draw), who, draw(st.integers(0, 90)), tuple(links), (), "new")
        )
    more = tuple(logged(len(log) + place, at_s, event) for place, event in enumerate(events, 1))
    return Situation(Prepared(of), fold((*log, *more)), at_s)


def _typed(draw: st.DrawFn) -> str:
    return draw(st.sampled_from(_TYPED))


def _more(draw: st.DrawFn, of: Procedure, now: Situation) -> Event | None:
    over = {*now.state.done, *now.state.not_needed}
    left = [one for one in of.steps if one.id not in over]
    may = [one.id for one in of.tasks if one.may_put_off and one.id not in now.state.begun_tasks]
    puts_off: bool = draw(st.booleans())
    if may and puts_off:
        return TasksPutOff((draw(st.sampled_from(may)),), _typed(draw))
    if not left:
        return None
    one = draw(st.sampled_from(left))
    if one.count is not None and draw(st.booleans()):
        return ActionsDone(one.id, 1, draw(st.integers(1, one.count)))
    others: list[Event] = [
        CompletionCalled(one.id, tuple((value.name, 5.0) for value in one.record)),
        TakesRevised(one.id, 77, _typed(draw)),
        NoteAdded(_typed(draw), one.id),
        StepNotNeeded(one.id, _typed(draw)),
        StartRecorded(one.id),
    ]
    return draw(st.sampled_from(others))
