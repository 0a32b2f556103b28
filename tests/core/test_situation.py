"""Where a run stands: states of steps, who is next, holds, room."""

import pytest

from app.core.commands import GiveGo, PutOff, RecordStart, SetNotNeeded, TakeWork
from app.core.situation import StepState
from tests.core.building import link, procedure, step, task
from tests.core.running import Run, marked

MADE = procedure(
    task("a", [100, 100], who="EV1"),
    task("b", [50], who="EV1"),
    task("c", [50], who="EV2", after=[link("a/1", 30)]),
    task("d", [50], who="GROUND", not_before_s=400),
    task("survey", [60], who="EV2", may_put_off=True),
    task("tray", [60], who="EV2", get_ahead=True),
    finish_s=600,
)


def _states(run: Run, now_s: int) -> dict[str, str]:
    situation = run.at(now_s)
    return {situation.id(number): str(state) for number, state in enumerate(situation.states) if state is not None}


def test_at_zero_what_can_start_is_under_way_and_the_rest_waits_or_is_ready() -> None:
    assert _states(Run(MADE), 0) == {
        "a/1": "under way",
        "a/2": "waiting",
        "b/1": "ready",
        "c/1": "waiting",
        "d/1": "waiting",
        "survey/1": "ready",
    }


def test_a_step_waits_out_the_wait_after_what_it_follows() -> None:
    run = Run(MADE).mark(a_1=100)
    assert run.step_state("c/1", 129) is StepState.WAITING
    assert run.step_state("c/1", 130) is StepState.UNDER_WAY


def test_a_step_waits_for_its_clock_time() -> None:
    assert Run(MADE).step_state("d/1", 399) is StepState.WAITING
    assert Run(MADE).step_state("d/1", 400) is StepState.UNDER_WAY


def test_a_step_waits_for_its_window_and_for_room_in_it() -> None:
    made = procedure(task("a", [50], who="EV1", within="day"), windows={"day": [(100, 149), (200, 300)]})
    states = [marked(made, second, {}).states[0] for second in (100, 199, 200)]
    assert states == [StepState.WAITING, StepState.WAITING, StepState.UNDER_WAY]


def test_a_step_whose_start_was_recorded_is_under_way_though_its_people_are_busy() -> None:
    run = Run(MADE)
    run.order(RecordStart("b/1"), 10)
    assert run.step_state("b/1", 10) is StepState.UNDER_WAY
    assert run.step_state("a/1", 10) is StepState.UNDER_WAY


def test_done_put_off_and_not_needed_are_told_apart_and_an_item_not_taken_has_no_state() -> None:
    run = Run(MADE).mark(a_1=100)
    run.order(PutOff("survey", "late"), 110)
    run.order(SetNotNeeded("b/1", "cut"), 110)
    states = _states(run, 110)
    assert (states["a/1"], states["survey/1"], states["b/1"]) == ("done", "put off", "not needed")
    assert "tray/1" not in states


def test_next_is_the_first_open_step_of_the_list_taken_work_included() -> None:
    run = Run(MADE)
    assert run.at(0).person("EV2").next == "c/1"
    run.order(TakeWork("tray"), 10)
    assert run.at(10).person("EV2").next == "tray/1"
    assert run.at(10).person("EV2").lead_s == 0  # Measured on the next step of the plan.
    run.mark(tray_1=70, a_1=100, c_1=180, survey_1=240)
    assert run.at(240).person("EV2").next is None
    assert run.at(240).person("EV2").float_s is None
    assert run.at(240).person("EV2").lead_s == 0


def test_after_the_last_step_a_persons_lead_is_that_of_their_last() -> None:
    assert marked(MADE, 500, {"d/1": 430}).person("GROUND").lead_s == 20


def test_somebody_without_a_step_is_on_plan_and_a_stranger_is_not_known() -> None:
    made = procedure(task("a"), crew=("EV1",))
    assert marked(made, 500, {}).person("EV1").lead_s == 0
    with pytest.raises(KeyError):
        marked(made, 0, {}).person("EV2")


def test_room_is_the_limit_less_the_projected_finish() -> None:
    assert marked(MADE, 0, {}).room_s == 600 - 450
    assert marked(MADE, 500, {}).room_s == 600 - 650
    assert marked(procedure(task("a")), 0, {}).room_s is None


def test_a_person_stands_at_a_hold_only_once_it_is_reached() -> None:
    made = procedure(task("a", [100, step(60, go=("EV1", "EV2"))], who="ARM"), crew=("EV1", "EV2", "ARM"))
    run = Run(made)
    assert run.at(50).at_hold("ARM") is None
    run.mark(a_1=100)
    assert run.at(100).at_hold("ARM") == "a/2"
    assert run.at(100).at_hold("EV1") is None
    run.order(GiveGo("a/2", "EV2"), 110)
    assert run.at(110).missing_go(made.step("a/2")) == ("EV1",)


def test_what_is_open_is_seen_through_steps_that_were_taken_out() -> None:
    made = procedure(task("a", [10]), task("b", [10], after=[link("a", 5)]), task("c", [10], after=[link("b", 7)]))
    run = Run(made)
    run.order(SetNotNeeded("b/1", "cut"), 0)
    assert list(run.at(0).prerequisites(2)) == [(0, 12)]
    run.mark(a_1=10)
    assert run.step_state("c/1", 21) is StepState.WAITING
    assert run.step_state("c/1", 22) is StepState.UNDER_WAY


def test_a_persons_float_is_how_much_their_next_step_may_slip() -> None:
    made = procedure(task("a", [100], who="EV1"), task("b", [300], who="EV2"))
    assert [view.float_s for view in marked(made, 0, {}).crew] == [200, 0]


def test_a_step_whose_window_has_no_opening_left_waits_and_is_reported() -> None:
    made = procedure(task("a", [100], who="EV1", within="day"), windows={"day": [(0, 100)]})
    run = Run(made)
    assert run.step_state("a/1", 0) is StepState.UNDER_WAY
    late = procedure(task("b", [50], who="EV1"), task("a", [100], who="EV1", within="day"), windows={"day": [(0, 200)]})
    missed = marked(late, 150, {"b/1": 150})
    assert missed.projection.misses == {1}
    assert missed.states[1] is StepState.WAITING
