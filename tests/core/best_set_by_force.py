"""Every set of optional work at every place in every order, each as a run in which it really is taken; and the runs."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, permutations, product

from hypothesis import assume
from hypothesis import strategies as st

from app.core.best_set import BestSet
from app.core.choices import gaps, goes_with
from app.core.events import TasksPutOff, WorkTaken
from app.core.fold import fold
from app.core.network import Places, with_task
from app.core.procedure import Designator, Procedure, Task, TaskId
from app.core.reasons import why_not_now
from app.core.situation import Prepared, Situation
from app.core.suppose import suppose
from tests.core.building import link, procedure, step, task
from tests.core.guesses import CREW, procedures, runs
from tests.core.running import logged

MOST_BY_FORCE = 1500
"""Ways that one example may have; larger ones are passed over."""
Way = tuple[tuple[TaskId, Places], ...]
Figures = tuple[int, int, int]

_seats = st.sampled_from([("EV1",), ("EV1",), ("EV2",), ("EV1", "EV2"), ()])


@st.composite
def an_item(draw: st.DrawFn, number: int, among: list[TaskId]) -> Task:
    """A get-ahead item, which now and then waits for one of these."""
    return task(
        f"g{number}",
        draw(st.lists(st.integers(1, 20), min_size=1, max_size=2)),
        who=draw(_seats),
        after=[link(draw(st.sampled_from(among)), draw(st.sampled_from([0, 10])))]
        if draw(st.integers(0, 2)) == 0
        else [],
        within=draw(st.sampled_from([None, None, "early"])),
        get_ahead=True,
    )


@st.composite
def roomy(draw: st.DrawFn) -> Procedure:
    """Some work with gaps in it, two or three items beside it, and work that may be put off; links among the items."""
    nominal = [
        task(
            f"t{number}",
            [step(draw(st.integers(1, 20)), not_before_s=draw(st.sampled_from([0, 20, 60])))],
            who=draw(_seats),
            after=[link(f"t{number - 1}", draw(st.sampled_from([0, 25])))] if number and draw(st.booleans()) else [],
            may_put_off=draw(st.booleans()),
        )
        for number in range(draw(st.integers(1, 3)))
    ]
    nominal = [replace(each, worth=draw(st.integers(1, 3)) if each.may_put_off else 0) for each in nominal]
    close = task("in", [10], who=("EV1", "EV2"), after=draw(st.sampled_from([[], [nominal[0].id]])))
    items: list[Task] = []
    for number in range(draw(st.integers(1, 3))):
        items.append(draw(an_item(number, [each.id for each in (*items, *nominal)])))
    limit = draw(st.sampled_from([None, 70, 90, 120]))
    closed = draw(st.booleans())
    return procedure(
        *nominal,
        close,
        *items,
        crew=CREW,
        windows={"early": [(0, 35), (60, 95)]},
        finish_s=limit,
        close_out="in" if closed else None,
        on_plan_within_s=60,
    )


@st.composite
def situations(draw: st.DrawFn) -> Situation:
    if draw(st.integers(0, 2)) == 0:
        made = draw(procedures(get_ahead=3))
        _, log, at_s = draw(runs(made))
        situation = Situation(Prepared(made), fold(log), at_s)
        assume(all(is_closed(made, each, frozenset(situation.state.put_off)) for each in situation.state.put_off))
        return situation
    made = draw(roomy())
    asked = {each.id for each in made.tasks if each.may_put_off and draw(st.booleans())}
    off = frozenset(other for each in asked for other in goes_with(made, each)[0])
    kept = tuple(each for each in off if is_closed(made, each, off))
    return Situation(Prepared(made), fold([logged(1, 0, TasksPutOff(kept, "late"))]), draw(st.integers(0, 30)))


def is_closed(made: Procedure, off: TaskId, put_off: frozenset[TaskId]) -> bool:
    """Whether an order could have put it off: all that waits for it is put off too, and nothing that must be done."""
    along, bars = goes_with(made, off)
    return not bars and put_off >= {*along}


def optional(situation: Situation) -> list[Task]:
    state = situation.state
    return [
        each
        for each in situation.procedure.tasks
        if (each.id in state.put_off or (each.get_ahead and each.id not in state.taken))
        and any(one.id not in state.done and one.id not in state.not_needed for one in each.steps)
    ]


def ways(situation: Situation, tasks: tuple[Task, ...]) -> Iterator[Way]:
    """Each order of taking these tasks, each at each place: the places there are now, and before one taken with it."""
    open_places = {person: gaps(situation, person) for person in situation.network.crew}
    for order in permutations(tasks):
        by_task = []
        for number, each in enumerate(order):
            spots = []
            for person in each.people:
                others: list[TaskId | None] = [o.id for o in order[:number] if person in o.people]
                now = [None if spot == each.id else spot for spot in open_places[person]]
                spots.append([*now, *others] if now else [])
            by_task.append([tuple(zip(each.people, spot, strict=True)) for spot in product(*spots)])
        for places in product(*by_task):
            yield tuple((each.id, place) for each, place in zip(order, places, strict=True))


def size(situation: Situation, tasks: list[Task]) -> int:
    """About how many ways there are."""
    total = 0
    for some in combinations(tasks, min(3, len(tasks))):
        count = 6
        for each in some:
            for person in each.people:
                count *= max(1, len(gaps(situation, person)) + 1)
        total += count
    return total


def taken(situation: Situation, way: Way) -> Situation | None:
    """The run with this work taken; None where it can't stand there."""
    then = suppose(situation, [WorkTaken(each, places) for each, places in way])
    lists: dict[Designator, tuple[TaskId, ...]] = dict(situation.lists)
    for each, places in way:
        lists = with_task(lists, each, places)
    own = [number for number, one in enumerate(then.network.steps) if one.task in dict(way)]
    return then if dict(then.lists) == lists and all(map(then.is_in, own)) else None


def all_in(situation: Situation, then: Situation, tasks: tuple[Task, ...]) -> bool:
    """Whether the team is as far ahead as asked, and close-out and each item end by the limit, in their windows."""
    limits = situation.procedure.limits
    own = {number for number, one in enumerate(then.network.steps) if one.task in {each.id for each in tasks}}
    last = [then.projection.end_s] if limits.close_out is None else []
    last += [
        then.projection.times(number)[1]
        for number, one in enumerate(then.network.steps)
        if number in own or one.task == limits.close_out
    ]
    return (
        then.lead_s >= situation.procedure.least_lead_s
        and not own & then.projection.misses
        and (limits.finish_s is None or max(last) <= limits.finish_s)
    )


def figures_of(situation: Situation, tasks: tuple[Task, ...], then: Situation) -> Figures:
    return (
        sum(each.worth for each in tasks if each.id in situation.state.put_off),
        sum(one.takes.likely_s for each in tasks if each.get_ahead for one in each.steps),
        then.lead_s,
    )


def by_force(situation: Situation) -> Figures | None:
    found = []
    for count in range(2, 4):
        for tasks in combinations(optional(situation), count):
            ids = [each.id for each in tasks]
            if any(why_not_now(situation, each, ids) is not None for each in tasks):
                continue
            for way in ways(situation, tasks):
                then = taken(situation, way)
                if then is not None and all_in(situation, then, tasks):
                    found.append(figures_of(situation, tasks, then))
    return max(found, default=None)


def merit(best: BestSet) -> Figures:
    return best.worth, best.extra_s, best.lead_after_s


def small(situation: Situation) -> list[Task]:
    """The optional work, where there is little.

    Close-out that is under way waits again when work that it gathers comes back; places before it open then. Not here.
    """
    tasks, close_out = optional(situation), situation.procedure.limits.close_out
    assume(close_out is None or not situation.begun(close_out))
    assume(2 <= len(tasks) <= 3)
    assume(size(situation, tasks) <= MOST_BY_FORCE)
    return tasks
