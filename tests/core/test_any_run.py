"""Any sequence of orders, accepted or refused, leaves a run that makes sense."""

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.core.carry import at_head, carried_over
from app.core.choices import offers
from app.core.commands import (
    Command,
    GiveBackWork,
    GiveGo,
    GiveNoGo,
    MarkStep,
    PutBack,
    PutOff,
    RecordStart,
    Refusal,
    ReopenStep,
    SetNotNeeded,
    TakeWork,
    UndoMark,
)
from app.core.events import StepMarked
from app.core.fold import fold
from app.core.procedure import Procedure
from app.core.report import situation_report
from app.core.situation import Prepared, Situation, StepState
from tests.core.building import procedure
from tests.core.guesses import CREW, WINDOWS, procedures
from tests.core.running import Run

SETTINGS = settings(
    max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)


@st.composite
def commands(draw: st.DrawFn, made: Procedure) -> Command:
    """Marks more than anything else, as in a run."""
    step = draw(st.sampled_from([each.id for each in made.steps]))
    task = draw(st.sampled_from([each.id for each in made.tasks]))
    person = draw(st.sampled_from(CREW))
    marks: list[Command] = [*[MarkStep(step)] * 6, MarkStep(step, ordered_because="the lead says so")]
    steps: list[Command] = [
        UndoMark(step), ReopenStep(step, "slip"), RecordStart(step), SetNotNeeded(step, "cut")
    ]  # fmt: skip
    holds: list[Command] = [GiveGo(step, "EV2"), GiveGo(step, "EV2"), GiveNoGo(step, person, "wind")]
    tasks: list[Command] = [PutOff(task, "late"), PutBack(task, "time"), TakeWork(task), GiveBackWork(task)]
    return draw(st.sampled_from([*marks, *steps, *holds, *tasks, *tasks]))


def _drive(data: st.DataObject) -> tuple[Procedure, Run]:
    made = data.draw(procedures(get_ahead=3))
    run, now_s = Run(made), 0
    for _ in range(data.draw(st.integers(0, 20))):
        now_s += data.draw(st.integers(0, 15))
        command = data.draw(commands(made))
        heard_s = max(0, now_s - data.draw(st.sampled_from([0, 0, 0, 4]))) if isinstance(command, MarkStep) else now_s
        length = len(run.log)
        try:
            run.order(command, now_s, heard_s)
        except Refusal:
            assert len(run.log) == length
        _makes_sense(made, run, now_s)
    run.now_s = now_s
    return made, run


def _makes_sense(made: Procedure, run: Run, now_s: int) -> None:
    state, situation = run.state, run.at(now_s)
    assert not set(state.done) & set(state.not_needed)
    assert not set(state.put_off) & set(state.taken)
    assert not any(each.rpartition("/")[0] in state.put_off for each in state.done)
    for number, step_state in enumerate(situation.states):
        step = made.steps[number]
        in_run = not made.task(step.task).get_ahead or step.task in state.taken
        assert (step_state is not None) is in_run
        assert in_run or step.id not in state.done
        if step_state is StepState.DONE:
            assert situation.projection.times(number)[1] == state.done[step.id].at_s <= now_s
        if step.go and step_state is StepState.DONE:
            assert not situation.missing_go(step)
    for view in situation.crew:
        assert view.float_s is None or view.float_s >= 0
    assert situation_report(situation)["lead_s"] == situation.lead_s
    for offer in offers(situation):
        assert not offer.eligible or (situation.lead_s >= made.least_lead_s and offer.reason is None)


@SETTINGS
@given(data=st.data())
def test_whatever_is_ordered_the_run_makes_sense_and_a_refusal_changes_nothing(data: st.DataObject) -> None:
    made, run = _drive(data)
    cut = data.draw(st.integers(0, len(run.log)))
    assert fold(run.log[cut:], fold(run.log[:cut])) == run.state
    marked = {each.event.step for each in run.log if isinstance(each.event, StepMarked)}
    assert set(run.state.done) <= marked
    if made.limits.close_out is None:
        assert not run.state.ended_s


@SETTINGS
@given(data=st.data())
def test_whatever_happened_every_earlier_second_can_be_shown(data: st.DataObject) -> None:
    made, run = _drive(data)
    for second in {each.at_s for each in run.log}:
        report = situation_report(Situation(Prepared(made), fold(run.log, until_s=second), second))
        assert report["at_s"] == second


@SETTINGS
@given(data=st.data())
def test_taking_what_is_offered_does_what_the_offer_said(data: st.DataObject) -> None:
    made, run = _drive(data)
    for offer in offers(run.at(run.now_s)):
        if offer.eligible:
            taken = Run(made)
            taken.log = list(run.log)
            taken.order(TakeWork(offer.task), run.now_s)
            after = taken.at(run.now_s)
            assert (after.lead_s, after.projection.end_s) == (offer.lead_after_s, offer.finish_after_s)
            assert after.lead_s >= made.least_lead_s


@SETTINGS
@given(data=st.data())
def test_what_any_run_leaves_makes_a_plan_for_the_next_outing(data: st.DataObject) -> None:
    made, run = _drive(data)
    carried = carried_over(made, run.state)
    left = {step.id for each in carried for step in each.steps}
    assert not left & {*run.state.done, *run.state.not_needed}
    following = at_head(carried, procedure(windows=WINDOWS, crew=CREW))
    assert Prepared(following).plan.end_s >= max([0, *(each.takes.likely_s for each in following.steps)])
