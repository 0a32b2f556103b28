"""Any legal replanning of any run: nothing raises, and the projection is that of the literal reading (`oracle`)."""

from contextlib import suppress
from itertools import pairwise

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.core.carry import carried_over
from app.core.choices import offers
from app.core.commands import (
    AddStep,
    Command,
    GiveBackWork,
    MakeChanges,
    MarkStep,
    PutBack,
    PutOff,
    Refusal,
    ReopenStep,
    ReorderTasks,
    ReviseTakes,
    SetNotNeeded,
    SwapTasks,
    TakeWork,
    UndoMark,
)
from app.core.fold import fold
from app.core.procedure import Designator, TaskId
from app.core.report import situation_report
from app.core.situation import Situation
from app.core.state import Added, Taken
from tests.core.guesses import CREW, procedures
from tests.core.happened import Happened
from tests.core.oracle import Oracle
from tests.core.running import Run

SETTINGS = settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
Turn = TaskId | tuple[Designator, tuple[TaskId, ...]]


@st.composite
def _replans(draw: st.DrawFn, now: Situation) -> Command:
    person = draw(st.sampled_from(CREW))
    tasks = [each.id for each in now.procedure.tasks]
    own = now.lists[person] or tuple(tasks)
    step = draw(st.sampled_from(now.procedure.steps))
    one, other = draw(st.sampled_from(own)), draw(st.sampled_from(own))
    order = tuple(draw(st.permutations(own))[: draw(st.integers(2, 4))])
    who = tuple(draw(st.lists(st.sampled_from(CREW), min_size=1, max_size=2, unique=True)))
    links: list[tuple[str, int | None]] = [(step.task, draw(st.sampled_from([None, step.number])))]
    before = draw(st.sampled_from([None, None, one]))
    after = tuple(links) if draw(st.booleans()) else ()
    commands: list[Command] = [
        ReviseTakes(step.id, draw(st.integers(0, 40)), "so"),
        ReorderTasks(person, order, "so"),
        SwapTasks(person, one, other, "so"),
        AddStep("Look", who, draw(st.integers(1, 30)), before, after, "so"),
    ]
    said = (f"swap {one} and {other} of {person}", f"{step.id} takes {draw(st.integers(0, 40))} s")
    return draw(st.sampled_from([*commands, MakeChanges(said, "so")]))


@st.composite
def _marks(draw: st.DrawFn, now: Situation, backwards: bool) -> Command:
    ready = [number for number, step in enumerate(now.network.steps) if now.is_open(number) and not step.go]
    ready = [number for number in ready if not now.open_before(number)] or [0]
    step = now.id(draw(st.sampled_from(ready)))
    done = draw(st.sampled_from([*now.state.done, step]))
    task = draw(st.sampled_from([each.id for each in now.procedure.tasks]))
    forward: list[Command] = [MarkStep(step), MarkStep(step), SetNotNeeded(step, "so"), TakeWork(task)]
    back: list[Command] = [ReopenStep(done, "so"), UndoMark(done), MarkStep(now.id(0), ordered_because="so")]
    back += [PutOff(task, "so"), PutOff(task, "so"), PutBack(task, "so"), GiveBackWork(task)]
    return draw(st.sampled_from([*forward, *back] if backwards else forward))


def _drive(data: st.DataObject, backwards: bool) -> Run:
    run, now_s = Run(data.draw(procedures())), 0
    for _ in range(data.draw(st.integers(1, 14))):
        now_s += data.draw(st.integers(0, 12))
        now = run.at(now_s)
        command = data.draw(st.one_of(_replans(now), _replans(now), _marks(now, backwards)))
        with suppress(Refusal):
            run.order(command, now_s)
    run.now_s = now_s
    return run


def _literally(now: Situation) -> Oracle:
    state = now.state
    came: dict[TaskId, Taken | Added] = {**state.taken, **state.added}
    turns: list[tuple[int, Turn]] = [(each.seq, task) for task, each in came.items()]
    turns += [(each.seq, (each.person, each.tasks)) for each in state.reordered]
    happened = Happened(
        done={step: mark.at_s for step, mark in state.done.items()},
        started=state.started,
        not_needed=frozenset(state.not_needed),
        off_since=state.off_since,
        taken={task: (each.places, each.at_s) for task, each in came.items()},
        takes=state.takes,
        turns=tuple(turn for _, turn in sorted(turns, key=lambda each: each[0])),
    )
    return Oracle(now.procedure, happened, now.at_s)


@SETTINGS
@given(data=st.data())
def test_a_replanned_run_is_projected_as_the_words_say(data: st.DataObject) -> None:
    run = _drive(data, backwards=False)
    now = run.at(run.now_s)
    oracle, planned = _literally(now), Oracle(run.prepared.procedure, Happened(), 0)
    assert now.dropped == ()
    assert (now.plan.end_s, now.projection.end_s) == (planned.end(), oracle.end())
    for person in CREW:
        assert list(now.lists[person]) == oracle.task_list(person)
        assert now.person(person).lead_s == oracle.person_lead(person, planned)
    for row in situation_report(now)["steps"]:
        step = row["id"]
        assert (row["start_s"], row["finish_s"]) == (oracle.start(step), oracle.finish(step)), step
        assert row["state"] == oracle.state(step), step


@SETTINGS
@given(data=st.data())
def test_whatever_is_replanned_and_taken_back_the_run_makes_sense(data: st.DataObject) -> None:
    run = _drive(data, backwards=True)
    cut = data.draw(st.integers(0, len(run.log)))
    assert fold(run.log[cut:], fold(run.log[:cut])) == run.state
    for second in {each.at_s for each in run.log}:
        _makes_sense(Situation(run.prepared, fold(run.log, until_s=second), second))
    now = run.at(run.now_s)
    _makes_sense(now)
    owed = {each.id for each in carried_over(now.procedure, now.state)}
    assert {task for task in now.state.added if now.is_open(now.network.index[f"{task}/1"])} <= owed


def _makes_sense(now: Situation) -> None:
    """Nobody does two open steps at once, nothing starts before what it waits for, lists hold the same tasks."""
    assert situation_report(now)["plan_finish_s"] == now.plan.end_s == now.prepared.base.plan.end_s
    assert all(each.float_s is None or each.float_s >= 0 for each in now.crew)
    assert len(offers(now)) <= len(now.procedure.tasks)
    for seat, person in enumerate(now.network.crew):
        assert len(set(now.lists[person])) == len(now.lists[person])
        assert {*now.prepared.base.lists[person]} <= {*now.lists[person]}
        own = [step for step in now.network.lists[seat] if now.is_open(step) and step not in now.facts.started]
        times = [now.projection.times(step) for step in own]
        assert all(one[1] <= other[0] for one, other in pairwise(times))
    for step in filter(now.is_open, range(len(now.network.steps))):
        if step not in now.facts.started:
            ready_s = [now.projection.finish_s[each] for each, _ in now.network.before[step] if now.is_in(each)]
            assert all(each is None or each <= now.projection.times(step)[0] for each in ready_s)
