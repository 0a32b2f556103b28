"""Properties of the projection that need no source."""

from dataclasses import replace

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from app.core.events import StartRecorded, StepMarked, StepNotNeeded, TasksPutOff
from app.core.fold import fold
from app.core.passes import NOTHING_YET, Facts, Timeline, backward, plan, project
from app.core.procedure import Procedure
from app.core.situation import Prepared, Situation, facts_of
from tests.core.building import link, procedure, step, task
from tests.core.guesses import procedures, runs
from tests.core.running import logged, marked

SETTINGS = settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])

CHAIN = procedure(task("a", [300, 300], who="EV1"), task("b", [600], who="EV2", after=["a"]))


@SETTINGS
@given(made=procedures())
def test_with_no_marks_at_elapsed_0_the_projection_is_the_plan(made: Procedure) -> None:
    situation = marked(made, 0, {})
    assert situation.projection == situation.plan
    assert situation.lead_s == 0
    assert all(view.lead_s == 0 for view in situation.crew)


@SETTINGS
@given(made=procedures(), data=st.data())
def test_with_all_marked_the_finish_is_the_last_mark(made: Procedure, data: st.DataObject) -> None:
    nominal = [each.id for each in made.steps if not made.task(each.task).get_ahead]
    marks = {each: data.draw(st.integers(0, 500)) for each in nominal}
    situation = marked(made, 500, marks)
    assert situation.projection.end_s == max(marks.values())
    assert situation.lead_s == situation.plan.end_s - max(marks.values())


@SETTINGS
@given(data=st.data())
def test_marking_a_step_later_never_makes_anything_finish_earlier(data: st.DataObject) -> None:
    made = data.draw(procedures())
    _, log, at_s = data.draw(runs(made))
    marks = {each.event.step: each for each in log if isinstance(each.event, StepMarked)}
    assume(marks)
    step_id = data.draw(st.sampled_from(list(marks)))
    late = marks[step_id]
    later_s = data.draw(st.integers(late.at_s, at_s))
    moved = [each._replace(at_s=later_s) if each is late else each for each in log]
    prepared = Prepared(made)
    before, after = Situation(prepared, fold(log), at_s), Situation(prepared, fold(moved), at_s)
    unmarked = Situation(prepared, fold([each for each in log if each is not late]), at_s)
    # A mark that overtakes open work of the same person tells that the work was not being done, so it starts only now;
    # and taken work may have to move down behind a step that is open again.
    overtakes = bool(unmarked.busy_before(prepared.network.index[step_id]) or unmarked.state.taken)
    for number in prepared.network.order:
        assert after.projection.times(number)[1] >= before.projection.times(number)[1]
        assert overtakes or unmarked.projection.times(number)[1] >= after.projection.times(number)[1]


@SETTINGS
@given(data=st.data())
def test_as_time_passes_without_a_mark_nothing_finishes_earlier(data: st.DataObject) -> None:
    made = data.draw(procedures())
    _, log, at_s = data.draw(runs(made))
    prepared, state = Prepared(made), fold(log)
    now, later = (Situation(prepared, state, second) for second in (at_s, at_s + data.draw(st.integers(0, 60))))
    assert later.lead_s <= now.lead_s
    for number in prepared.network.order:
        assert later.projection.times(number)[1] >= now.projection.times(number)[1]


@given(overrun_s=st.integers(-299, 2000))
def test_on_a_critical_chain_the_lead_changes_by_exactly_the_overrun(overrun_s: int) -> None:
    situation = marked(CHAIN, max(0, 300 + overrun_s), {"a/1": 300 + overrun_s})
    assert situation.lead_s == -overrun_s
    assert situation.person("EV1").lead_s == -overrun_s
    assert situation.person("EV2").lead_s == -overrun_s


def test_an_overrunning_step_costs_lead_second_by_second() -> None:
    leads = [marked(CHAIN, second, {}).lead_s for second in range(295, 306)]
    assert leads == [0, 0, 0, 0, 0, 0, -1, -2, -3, -4, -5]


def test_an_overrun_beside_the_critical_path_costs_only_that_persons_lead_until_the_float_is_used() -> None:
    made = procedure(task("a", [100], who="EV1"), task("b", [300], who="EV2"), task("end", [10], after=["a", "b"]))
    assert marked(made, 300, {}).lead_s == 0
    assert marked(made, 300, {}).person("EV1").lead_s == -200
    assert marked(made, 301, {"b/1": 300}).lead_s == -1


def test_a_step_marked_out_of_order_is_honoured() -> None:
    made = procedure(task("a", [100], who="EV1"), task("b", [50], who="EV1"), task("c", [30], who="EV1"))
    situation = marked(made, 60, {"b/1": 60})
    assert situation.projection.times(1) == (0, 60)
    assert situation.projection.times(0) == (60, 160)
    assert situation.projection.times(2) == (160, 190)
    assert situation.person("EV1").next == "a/1"
    assert situation.lead_s == 180 - 190


def test_a_recorded_start_stands_in_place_of_the_computed_one() -> None:
    log = [logged(1, 100, StepMarked("a/1")), logged(2, 250, StartRecorded("a/2"))]
    situation = Situation(Prepared(CHAIN), fold(log), 260)
    assert situation.projection.times(1) == (250, 550)
    assert situation.lead_s == 600 - 550


def test_a_recorded_start_outside_its_window_stands() -> None:
    made = procedure(task("a", [100], who="EV1", within="day"), windows={"day": [(200, 400)]})
    situation = Situation(Prepared(made), fold([logged(1, 150, StartRecorded("a/1"))]), 160)
    assert situation.projection.times(0) == (150, 250)


def test_a_step_that_is_not_needed_takes_no_time_and_passes_on_what_it_waited_for() -> None:
    made = procedure(
        task("a", [100], who="EV1"),
        task("b", [50], who="EV2", after=[link("a", 20)], not_before_s=500),
        task("c", [30], who="ARM", after=[link("b", 5)]),
    )
    situation = Situation(Prepared(made), fold([logged(1, 0, StepNotNeeded("b/1", "cut"))]), 0)
    assert situation.projection.times(2) == (125, 155)
    assert situation.open_before(2) == [0]


def test_a_task_that_was_put_off_leaves_its_people_free_and_passes_on_what_it_waited_for() -> None:
    made = procedure(
        task("a", [100], who="EV1"),
        task("b", [50], who="EV1", after=["a"], may_put_off=True),
        task("c", [30], who=("EV1", "EV2"), after=["b"]),
        close_out="c",
    )
    situation = Situation(Prepared(made), fold([logged(1, 0, TasksPutOff(("b",), "short of time"))]), 0)
    assert situation.projection.times(2) == (100, 130)
    assert situation.lead_s == 50


def test_the_finish_of_what_was_put_off_last_is_not_in_the_projected_finish() -> None:
    made = procedure(task("a", [100], who="EV1"), task("b", [50], after=[link("a", 300)], may_put_off=True))
    situation = Situation(Prepared(made), fold([logged(1, 0, TasksPutOff(("b",), "short of time"))]), 0)
    assert situation.projection.end_s == 100
    assert situation.late.float_s(situation.projection, 0) == 0


def test_a_missed_window_pushes_a_step_into_the_next_opening() -> None:
    made = procedure(
        task("a", [100], who="EV1"), task("b", [50], who="EV1", within="day"), windows={"day": [(0, 160), (400, 500)]}
    )
    assert marked(made, 0, {}).projection.times(1) == (100, 150)
    assert marked(made, 110, {}).projection.times(1) == (110, 160)
    assert marked(made, 111, {}).projection.times(1) == (400, 450)


def test_a_step_with_no_opening_left_keeps_its_start_and_is_reported() -> None:
    made = procedure(task("a", [100]), task("b", [50], after=["a"], within="day"), windows={"day": [(0, 160)]})
    situation = marked(made, 120, {})
    assert situation.projection.times(1) == (120, 170)
    assert situation.projection.misses == {1}
    assert situation.late.float_s(situation.projection, 1) == 0


def test_a_joint_step_waits_for_the_last_of_its_people() -> None:
    made = procedure(task("a", [100], who="EV1"), task("b", [70], who="EV2"), task("c", [10], who=("EV1", "EV2")))
    assert marked(made, 0, {}).projection.times(2) == (100, 110)
    assert marked(made, 200, {"a/1": 80, "b/1": 200}).projection.times(2) == (200, 210)


# Float: how much a step may slip before the end moves


@SETTINGS
@given(made=procedures(), data=st.data())
def test_a_step_may_slip_by_its_float_and_not_by_one_second_more(made: Procedure, data: st.DataObject) -> None:
    prepared = Prepared(made)
    number = data.draw(st.sampled_from(prepared.network.order))
    late_s = prepared.late.start_s[number]
    assert late_s is not None

    def held_until(second: int) -> Timeline:
        return project(prepared.network, Facts(floor_s={number: second}), 0)

    assert held_until(late_s).end_s == prepared.plan.end_s
    assert not held_until(late_s).misses
    longer = held_until(late_s + 1)
    assert longer.end_s > prepared.plan.end_s or longer.misses


@SETTINGS
@given(made=procedures())
def test_a_plan_has_a_critical_step_and_no_float_below_0(made: Procedure) -> None:
    prepared = Prepared(made)
    floats = [prepared.late.float_s(prepared.plan, number) for number in prepared.network.order]
    assert min(floats) == 0


@SETTINGS
@given(data=st.data())
def test_during_a_run_no_float_is_below_0_and_slipping_by_it_moves_no_finish(data: st.DataObject) -> None:
    made = data.draw(procedures())
    _, log, at_s = data.draw(runs(made))
    situation = Situation(Prepared(made), fold(log), at_s)
    open_steps = [number for number in situation.network.order if situation.is_open(number)]
    assume(open_steps)
    number = data.draw(st.sampled_from(open_steps))
    float_s = situation.late.float_s(situation.projection, number)
    assert float_s >= 0
    start_s = situation.projection.times(number)[0]
    if number not in situation.facts.started and start_s > at_s:
        floor = {**situation.facts.floor_s, number: start_s + float_s}
        held = project(situation.network, replace(situation.facts, floor_s=floor), at_s)
        assert held.end_s == situation.projection.end_s


def test_an_optional_item_after_the_end_takes_no_float_from_what_comes_before() -> None:
    made = procedure(task("a", [100], who="EV1"), task("b", [300], who="EV2"))
    network = Prepared(made).network
    timeline = plan(network)
    longer = replace(timeline, finish_s=(100, 300))
    assert backward(network, longer, NOTHING_YET).finish_s == (300, 300)
    assert facts_of(network, fold([])) == NOTHING_YET


def test_who_was_overtaken_by_a_recorded_start_keeps_float_of_its_own() -> None:
    made = procedure(task("a", [100], who="EV1"), task("b", [50], who="EV1"), task("c", [400], who="EV2"))
    situation = Situation(Prepared(made), fold([logged(1, 0, StartRecorded("b/1"))]), 0)
    assert situation.late.float_s(situation.projection, 0) == 300


def test_work_after_a_joint_step_is_critical_for_the_one_who_comes_last() -> None:
    made = procedure(
        task("slow", [500], who="EV1"), task("quick", [100], who="EV2"), task("both", [step(60)], who=("EV1", "EV2"))
    )
    prepared = Prepared(made)
    assert [prepared.late.float_s(prepared.plan, number) for number in range(3)] == [0, 400, 0]


def test_a_step_that_missed_its_window_is_late_as_if_it_had_none() -> None:
    made = procedure(
        task("a", [100], who="EV1"),
        task("b", [50], after=["a"], within="day"),
        task("c", [1000], who="EV2"),
        windows={"day": [(0, 160)]},
    )
    situation = marked(made, 200, {"a/1": 180})
    assert situation.projection.misses == {1}
    assert situation.projection.times(1) == (180, 230)
    assert situation.late.float_s(situation.projection, 1) == 1000 - 230
