"""The plan told phase by phase."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings

from app.core.briefing import NEAR_S, joins, phases, planned_turn_back_s
from app.core.procedure import Limits, Procedure
from app.core.situation import Prepared
from app.core.times import clock_short
from app.reading.procedure_reader import read_procedure
from app.settings import HOME
from tests.core.building import procedure, step, task
from tests.core.guesses import procedures


def sample(name: str) -> Prepared:
    made = read_procedure((HOME / "procedures" / f"{name}.yaml").read_bytes()).procedure
    assert made is not None
    return Prepared(made)


def test_the_sample_comes_in_six_phases() -> None:
    found = [(clock_short(each.start_s), each.name) for each in phases(sample("pump-changeout"))]
    assert found == [
        ("00:00", "Go out and set up"),
        ("00:41", "Prove the loop is isolated"),
        ("01:26", "Carry the old pump to the rack"),
        ("02:00", "Hold: Stop at 80 cm. Is the pump square to the rails?"),
        ("02:49", "Plug in the spare pump: Plug power P1"),
        ("03:44", "Gather tools and come in"),
    ]


@given(procedures())
@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
def test_each_planned_step_is_in_exactly_one_phase_of_each_of_its_people(made: Procedure) -> None:
    prepared = Prepared(made)
    found = phases(prepared)
    told = [(person, step) for phase in found for person, work in phase.work for each in work for step in each.steps]
    nominal = [one for one, is_in in zip(prepared.network.steps, prepared.network.nominal, strict=True) if is_in]
    assert sorted(told) == sorted((person, one.id) for one in nominal for person in (one.who or ("",)))


@given(procedures())
@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
def test_phases_follow_one_another_from_zero_to_the_plan_finish(made: Procedure) -> None:
    prepared = Prepared(made)
    found = phases(prepared)
    assert found[0].start_s == 0
    assert found[-1].end_s == prepared.plan.end_s
    assert [each.end_s for each in found[:-1]] == [each.start_s for each in found[1:]]
    for phase in found:
        for _, work in phase.work:
            for each in work:
                assert phase.start_s <= each.start_s


def hours(*tasks: object, **more: object) -> Prepared:
    return Prepared(procedure(*tasks, crew=("EV1", "EV2"), **more))  # type: ignore[arg-type] # what `procedure` takes


def test_a_hold_a_shared_task_and_close_out_begin_phases() -> None:
    prepared = hours(
        task("alone", [3600], who="EV1"),
        task("shared", [3600], who=("EV1", "EV2"), after=["alone"]),
        task("stop", [step(600, "Clear?", go=("EV2",)), 3000], who="EV1", after=["shared"]),
        task("home", [600], who="EV1", after=["stop"]),
        close_out="home",
    )
    assert [(each.start_s, each.name) for each in phases(prepared)] == [
        (0, "Task alone"),
        (3600, "Task shared"),
        (7200, "Hold: Clear?"),
        (10_800, "Task home"),
    ]


def test_gatherings_close_together_begin_one_phase() -> None:
    prepared = hours(
        task("shared", [NEAR_S - 1], who=("EV1", "EV2")),
        task("again", [3600], who=("EV1", "EV2"), after=["shared"]),
    )
    assert [each.start_s for each in phases(prepared)] == [0]


def test_joins_name_who_waits_for_whom_in_order_of_time() -> None:
    prepared = hours(
        task("cut", [600], who="EV1"),
        task("saw", [60], who="EV2"),
        task("join", [600], who="EV2", after=["cut", "saw"]),
    )
    (join,) = joins(prepared)
    assert (join.step, join.start_s, join.who, join.on, join.until) == ("join/1", 600, ("EV2",), ("EV1",), "cut/1")


@pytest.mark.parametrize(("finish_s", "by_s"), [(7200, 6600), (None, None)])
def test_the_turn_back_time_by_plan_is_the_limit_less_close_out(finish_s: int | None, by_s: int | None) -> None:
    made = procedure(task("work", [3600], who="EV1"), task("home", [600], who="EV1", after=["work"]), crew=("EV1",))
    prepared = Prepared(replace(made, limits=Limits(finish_s, "home")))
    assert planned_turn_back_s(prepared) == by_s
