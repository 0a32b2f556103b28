"""Hypothesis strategies: runs that fall behind, with much that may be put off and worth that differs."""

from dataclasses import replace

from hypothesis import strategies as st

from app.core.events import Event, TakesRevised
from app.core.fold import fold
from app.core.network import build
from app.core.passes import plan
from app.core.procedure import Procedure
from app.core.situation import Prepared, Situation
from tests.core.building import link, procedure, task
from tests.core.guesses import procedures, runs
from tests.core.running import logged

_seats = st.sampled_from([("EV1",), ("EV1",), ("EV2",), ("ARM",), ("EV1", "EV2"), ()])


def _with_worth(draw: st.DrawFn, made: Procedure) -> Procedure:
    tasks = [replace(each, worth=draw(st.integers(1, 9))) if each.may_put_off else each for each in made.tasks]
    return replace(made, tasks=tuple(tasks))


@st.composite
def late_procedures(draw: st.DrawFn, most: int = 7, windows: bool = True) -> Procedure:
    """Mostly tasks that may be put off, many of them waiting for others; a short close-out task waits for some."""
    opens = {"gap": [(0, 40), (70, 110), (200, 2000)]} if windows else {}
    tasks = []
    for number in range(draw(st.integers(1, most))):
        links = [
            link(f"t{earlier}", draw(st.sampled_from([0, 0, 10])))
            for earlier in range(number)
            if draw(st.integers(0, 3)) == 0
        ]
        may = draw(st.sampled_from([True, True, True, False]))
        one = task(
            f"t{number}",
            draw(st.lists(st.integers(0, 30), min_size=1, max_size=2)),
            who=draw(_seats),
            after=links,
            within=draw(st.sampled_from([None, None, None, "gap"])) if windows else None,
            not_before_s=draw(st.sampled_from([0, 0, 0, 40])) if windows else 0,
            may_put_off=may,
        )
        tasks.append(replace(one, worth=draw(st.integers(1, 9)) if may else 0))
    gathered = [each.id for each in tasks if draw(st.booleans())]
    tasks.append(task("in", [10], who=("EV1", "EV2"), after=gathered))
    made = procedure(*tasks, windows=opens, crew=("EV1", "EV2", "ARM"), close_out="in")
    ends_s = plan(build(made)).end_s
    limit = draw(st.sampled_from([None, ends_s - 5, ends_s, ends_s + 20, ends_s + 60]))
    return replace(made, limits=replace(made.limits, finish_s=limit))


@st.composite
def late_situations(draw: st.DrawFn, most: int = 7, windows: bool = True) -> Situation:
    """Marks, starts, work put off and taken, revised durations; the moment is often long after the last of them."""
    if windows and draw(st.integers(0, 2)) == 0:
        made = _with_worth(draw, draw(procedures()))
    else:
        made = draw(late_procedures(most, windows))
    _, log, at_s = draw(runs(made))
    log = log[: draw(st.sampled_from([0, 1, 3, 6, 14]))]
    ids = [each.id for each in made.steps]
    revised: list[Event] = [
        TakesRevised(draw(st.sampled_from(ids)), draw(st.integers(0, 60)), "slow")
        for _ in range(draw(st.integers(0, 2)))
    ]
    more = tuple(logged(len(log) + seq, at_s, event) for seq, event in enumerate(revised, start=1))
    return Situation(Prepared(made), fold((*log, *more)), at_s + draw(st.sampled_from([0, 0, 40])))
