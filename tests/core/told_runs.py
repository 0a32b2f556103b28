"""Runs of every shape for what is told afterwards: marks, late words, corrections, replanning. It checks nothing."""

from random import Random

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st

from app.core.commands import (
    AddStep,
    Command,
    GiveBackWork,
    GiveGo,
    MarkStep,
    PutBack,
    PutOff,
    RecordStart,
    Refusal,
    ReopenStep,
    ReviseTakes,
    SetNotNeeded,
    TakeWork,
    UndoMark,
)
from app.core.commands_live import CorrectMark
from app.core.procedure import Procedure
from tests.core.guesses import CREW, procedures
from tests.core.running import Run, orders_for

SETTINGS = settings(
    max_examples=100,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
)
"""A run comes from a seed, and a smaller seed is no smaller run: there is nothing to shrink."""
MAY_BE_LATE = (MarkStep, CorrectMark, RecordStart, GiveGo)


@st.composite
def told_runs(draw: st.DrawFn, windows: bool = True) -> tuple[Procedure, Run]:
    """A procedure and a run of it, with its last second in `now_s`.

    The orders come from a seed, not one by one from hypothesis, which would keep nearly all runs short.
    """
    made, rng = draw(procedures(windows)), Random(draw(st.integers(0, 2**32)))
    run, now_s = Run(made), 0
    for _ in range(rng.randrange(50)):
        now_s += rng.choice([0, 0, 1, 4, 9, 25])
        for command in _orders(rng, run, now_s):
            late_s = rng.choice([0, 0, 0, 6, 20]) if isinstance(command, MAY_BE_LATE) else 0
            try:
                run.order(command, now_s, max(0, now_s - late_s))
            except Refusal:
                continue
    run.now_s = now_s + rng.choice([0, 5, 40])
    return made, run


def _orders(rng: Random, run: Run, now_s: int) -> tuple[Command, ...]:
    """One order, mostly a mark of a step that is open; or the goes of a hold."""
    steps = run.prepared.procedure.steps
    left = [one for one in steps if one.id not in run.state.done]
    step = rng.choice(left if left and rng.random() < 0.8 else steps)
    task, person = step.task, rng.choice(CREW)
    if rng.random() < 0.6:
        goes = tuple(GiveGo(step.id, one) for one in step.go)
        return (*goes, *orders_for(run.at(now_s), step.id))
    others: list[Command] = [
        *(MarkStep(step.id, ordered_because="the lead says so"), UndoMark(step.id), ReopenStep(step.id, "slip")),
        *(RecordStart(step.id), SetNotNeeded(step.id, "cut"), CorrectMark(step.id, "misheard")),
        *(CorrectMark(step.id, "misheard"), PutOff(task, "late"), PutBack(task, "time"), TakeWork(task)),
        *(GiveBackWork(task), ReviseTakes(step.id, rng.randrange(40), "so")),
        AddStep("Look", (person,), rng.randrange(1, 30), None, ((task, None),), "so"),
    ]
    return (rng.choice(others),)
