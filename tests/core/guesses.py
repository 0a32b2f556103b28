"""Hypothesis strategies: small procedures of every shape, and what may have happened in a run of one."""

from dataclasses import replace

from hypothesis import strategies as st

from app.core.events import Event, Logged, StartRecorded, StepMarked, StepNotNeeded, TasksPutOff, WorkTaken
from app.core.network import Cycle, arrange, build, task_lists, with_task
from app.core.passes import plan
from app.core.procedure import After, Procedure, Step, Task
from tests.core.building import procedure, step, task
from tests.core.happened import Happened
from tests.core.oracle import Oracle
from tests.core.running import logged

CREW = ("EV1", "EV2", "ARM")
WINDOWS = {
    "early": [(0, 30), (45, 70)],
    "day": [(0, 40), (60, 90), (120, 400)],
    "pass": [(15, 35), (70, 80), (130, 160), (300, 420)],
}

_who = st.sampled_from([(), ("EV1",), ("EV1",), ("EV2",), ("ARM",), ("EV1", "EV2"), ("EV2", "ARM")])
_takes = st.integers(0, 20)
_mostly = st.sampled_from([True] * 9 + [False])
_waits = st.sampled_from([0, 0, 0, 5, 12])


@st.composite
def _links(draw: st.DrawFn, others: list[Task], most: int) -> tuple[After, ...]:
    if not others:
        return ()
    found = []
    for other in draw(st.lists(st.sampled_from(others), max_size=most)):
        number = draw(st.sampled_from([None, None, *(one.number for one in other.steps)]))
        found.append(After(other.id, number, draw(_waits)))
    return tuple(found)


@st.composite
def _steps(draw: st.DrawFn, others: list[Task], windows: bool) -> list[Step]:
    made = []
    for _ in range(draw(st.integers(1, 3))):
        within = draw(st.sampled_from([None, None, None, None, "early", "day", "pass"])) if windows else None
        limit = 10 if within == "pass" else 20
        made.append(
            step(
                min(limit, draw(_takes)),
                who=draw(st.one_of(st.none(), st.none(), _who)),
                after=draw(_links(others, 1)) if draw(st.integers(0, 3)) == 0 else (),
                not_before_s=draw(st.sampled_from([0, 0, 0, 0, 30, 55])),
                within=within,
                go=draw(st.sampled_from([(), (), (), (), ("EV2",)])),
            )
        )
    return made


@st.composite
def procedures(draw: st.DrawFn, windows: bool = True, get_ahead: int = 2) -> Procedure:
    """A sound procedure whose plan misses no window, with up to five nominal tasks and some get-ahead items."""
    nominal: list[Task] = []
    for number in range(draw(st.integers(1, 5))):
        steps = draw(_steps(nominal, windows))
        made = task(
            f"t{number}", steps, who=draw(_who), after=draw(_links(nominal, 2)), may_put_off=draw(st.booleans())
        )
        nominal.append(made)
    if draw(st.booleans()):
        nominal = _backward(draw, nominal)
    extra: list[Task] = []
    for number in range(draw(st.integers(0, get_ahead))):
        steps = draw(_steps([*nominal, *extra], windows))
        links = draw(_links([*nominal, *extra], 1))
        extra.append(task(f"g{number}", steps, who=draw(_who), after=links, get_ahead=True))
    close_out = draw(st.sampled_from([None, nominal[-1].id]))
    tasks = [replace(each, may_put_off=each.may_put_off and each.id != close_out) for each in nominal]
    place = draw(st.integers(0, len(tasks)))
    made_procedure = procedure(
        *tasks[:place],
        *extra,
        *tasks[place:],
        windows=WINDOWS,
        crew=CREW,
        close_out=close_out,
        least_lead_s=draw(st.sampled_from([0, 0, 0, 5])),
        on_plan_within_s=draw(st.sampled_from([0, 3, 60])),
    )
    network = build(made_procedure)
    timeline = plan(network)
    if timeline.misses:  # `checking` refuses such a file; without its windows the procedure is sound.
        made_procedure = _without_windows(made_procedure)
        timeline = plan(build(made_procedure))
    finish_s = draw(st.sampled_from([None, timeline.end_s, timeline.end_s + 10, timeline.end_s + 60]))
    return replace(made_procedure, limits=replace(made_procedure.limits, finish_s=finish_s))


def _backward(draw: st.DrawFn, tasks: list[Task]) -> list[Task]:
    """A file need not list tasks in the order of their links: swap two if that leaves no circle."""
    one, two = draw(st.integers(0, len(tasks) - 1)), draw(st.integers(0, len(tasks) - 1))
    swapped = list(tasks)
    swapped[one], swapped[two] = swapped[two], swapped[one]
    try:
        build(procedure(*swapped, windows=WINDOWS, crew=CREW))
    except Cycle:
        return tasks
    return swapped


def _without_windows(made: Procedure) -> Procedure:
    return replace(
        made,
        tasks=tuple(
            replace(each, within=None, steps=tuple(replace(one, within=None) for one in each.steps))
            for each in made.tasks
        ),
    )


@st.composite
def runs(draw: st.DrawFn, of: Procedure) -> tuple[Happened, tuple[Logged, ...], int]:
    """What happened, the same as a log, and a second that is not before it.

    Marks come in a sound order or against a person's list, at rising or earlier (late heard) seconds; sometimes one
    is ordered against an open prerequisite.
    """
    now_s = 0
    happened = Happened()
    events: list[tuple[int, Event]] = []
    for _ in range(draw(st.integers(0, 14))):
        now_s += draw(st.integers(0, 25))
        at_s = draw(st.sampled_from([now_s, now_s, now_s, max(0, now_s - 9)]))
        happened, event = _one(draw, of, happened, at_s)
        if event is not None:
            events.append((at_s, event))
    log = tuple(logged(seq, at_s, event) for seq, (at_s, event) in enumerate(events, start=1))
    return happened, log, now_s + draw(st.sampled_from([0, 0, 3, 17, 60]))


def _one(draw: st.DrawFn, of: Procedure, happened: Happened, at_s: int) -> tuple[Happened, Event | None]:
    extra = {each.id for each in of.tasks if each.get_ahead and each.id not in happened.taken}
    out = {*extra, *happened.put_off}
    left = [
        one
        for one in of.steps
        if one.task not in out and one.id not in happened.done and one.id not in happened.not_needed
    ]
    what = draw(st.sampled_from(["mark"] * 8 + ["start", "not needed", "put off", "take", "take"]))
    if what == "take":
        return _take(draw, of, happened, at_s, sorted(out))
    if what == "put off":
        return _put_off(draw, of, happened, at_s)
    if not left:
        return happened, None
    ready = [one for one in left if _is_ready(of, happened, one)]
    in_order = draw(_mostly) and bool(ready)
    one = draw(st.sampled_from(ready if in_order else left))
    if what == "start":
        return replace(happened, started={**happened.started, one.id: at_s}), StartRecorded(one.id)
    if what == "not needed":
        since = {**happened.off_since, one.id: at_s}
        changed = replace(happened, not_needed=happened.not_needed | {one.id}, off_since=since)
        return changed, StepNotNeeded(one.id, "not needed")
    return replace(happened, done={**happened.done, one.id: at_s}), StepMarked(one.id)


def _is_ready(of: Procedure, happened: Happened, one: Step) -> bool:
    over = {*happened.done, *happened.not_needed}
    before = [f"{one.task}/{one.number - 1}"] if one.number > 1 else []
    for link in one.after:
        before += [each.id for each in of.task(link.task).steps if link.step in (None, each.number)]
    return all(each in over or each.rpartition("/")[0] in happened.put_off for each in before)


def _put_off(draw: st.DrawFn, of: Procedure, happened: Happened, at_s: int) -> tuple[Happened, Event | None]:
    begun = {each.rpartition("/")[0] for each in (*happened.done, *happened.started)}
    may = [each.id for each in of.tasks if each.may_put_off and each.id not in {*begun, *happened.put_off}]
    if not may:
        return happened, None
    task_id = draw(st.sampled_from(may))
    taken = {each: place for each, place in happened.taken.items() if each != task_id}
    since = {**happened.off_since, task_id: 0 if task_id in happened.taken else at_s}
    changed = replace(happened, put_off=happened.put_off | {task_id}, taken=taken, off_since=since)
    try:
        if changed.taken:
            _acyclic(of, changed)
    except Cycle:
        return happened, None
    return changed, TasksPutOff((task_id,), "put off")


def _take(
    draw: st.DrawFn, of: Procedure, happened: Happened, at_s: int, out: list[str]
) -> tuple[Happened, Event | None]:
    """Only work that waits for nothing can be taken."""
    oracle = Oracle(of, happened, at_s)
    free = [
        each
        for each in out
        if not any(before.rpartition("/")[0] != each for one in of.task(each).steps for before in oracle.unmet(one.id))
    ]
    if not free:
        return happened, None
    task_id = draw(st.sampled_from(free))
    nominal = [each.id for each in of.tasks if not each.get_ahead and each.id != task_id]
    places = tuple((person, draw(st.sampled_from([None, *nominal]))) for person in of.task(task_id).people)
    changed = replace(
        happened,
        taken={**happened.taken, task_id: (places, at_s)},
        put_off=happened.put_off - {task_id},
    )
    try:
        _acyclic(of, changed)
    except Cycle:
        return happened, None
    return changed, WorkTaken(task_id, places)


def _acyclic(of: Procedure, happened: Happened) -> None:
    """Raises Cycle where no run could have come to."""
    lists, network = task_lists(of), build(of)
    for task_id, (places, _) in happened.taken.items():
        lists = with_task(lists, task_id, places)
    removed = [
        number
        for number, one in enumerate(of.steps)
        if one.id not in happened.done and (one.task in happened.put_off or one.id in happened.not_needed)
    ]
    arrange(network, lists, happened.taken, [network.index[each] for each in happened.done], removed)
