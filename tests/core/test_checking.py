"""What makes a procedure sound: each rule refuses what it should, at its path, and nothing else."""

from collections.abc import Iterable
from dataclasses import replace

import pytest

from app.core.checking import MOST_COUNT, MOST_FAULTS, check
from app.core.procedure import (
    After,
    Fault,
    Limits,
    Person,
    Procedure,
    Round,
    Span,
    Step,
    Supply,
    Takes,
    Task,
    Value,
    Window,
)
from tests.core.making import only, path, procedure, step, task


def test_a_sound_procedure_has_no_faults() -> None:
    assert check(procedure(task("a", who=("EV1",)), task("b", after=(After("a"),)))) == ()


def test_no_tasks_and_no_steps_are_refused() -> None:
    assert path(procedure()) == ("tasks",)
    assert path(procedure(replace(task("a"), steps=()))) == ("tasks", 0, "steps")


@pytest.mark.parametrize(
    ("keys", "where"),
    [
        ({"crew": (Person("EV1"), Person("EV2"), Person("EV1"))}, ("crew", "EV1")),
        ({"windows": (Window("w", (Span(0, 9),)), Window("w", (Span(0, 9),)))}, ("windows", "w")),
        ({"rounds": (Round("r", "?", ("EV1", "EV2"), 1), Round("r", "?", (), 1))}, ("rounds", 1, "round")),
        ({"supplies": (Supply("s", (), "bar", 0), Supply("s", (), "bar", 0))}, ("supplies", 1, "supply")),
        ({"tools": ("saw", "saw")}, ("tools", 1)),
    ],
)  # fmt: skip
def test_a_name_given_twice_is_refused_at_the_second(keys: dict[str, object], where: tuple[str | int, ...]) -> None:
    assert path(procedure(task("a"), **keys)) == where


def test_a_task_id_given_twice_is_refused_and_makes_no_circle_of_it() -> None:
    twice = procedure(task("a", who=("EV1",)), task("b", who=("EV1",)), task("a", who=("EV1",)))
    assert path(twice) == ("tasks", 2, "task")


def test_a_value_recorded_twice_in_one_step_is_refused() -> None:
    assert path(procedure(task("a", step(record=(Value("p", "kPa"), Value("p", "kPa")))))) == (
        "tasks", 0, "steps", 0, "record", "p",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("tasks", "keys", "where"),
    [
        ([task("a", who=("EV1", "EV3"))], {}, ("tasks", 0, "who", 1)),
        ([task("a", step(who=("EV3",)), who=("EV1",))], {}, ("tasks", 0, "steps", 0, "who", 0)),
        ([task("a", step(go=("EV1", "EV3")))], {}, ("tasks", 0, "steps", 0, "hold", "go", 1)),
        ([task("a", step(confirm_by="EV3"))], {}, ("tasks", 0, "steps", 0, "confirm_by")),
        ([task("a")], {"rounds": (Round("r", "?", ("EV1", "EV2", "EV3"), 1),)}, ("rounds", 0, "who", 2)),
        ([task("a")], {"supplies": (Supply("s", ("EV3",), "bar", 0),)}, ("supplies", 0, "who", 0)),
        ([task("a", after=(After("b"),))], {}, ("tasks", 0, "after", 0)),
        ([task("a", step(after=(After("b", 1),)))], {}, ("tasks", 0, "steps", 0, "after", 0)),
        ([task("a"), task("b", after=(After("a"), After("a", 2)))], {}, ("tasks", 1, "after", 1)),
        ([task("a", within="night")], {}, ("tasks", 0, "within")),
        ([task("a", step(within="night"))], {}, ("tasks", 0, "steps", 0, "within")),
        ([task("a", needs=("saw", "axe"))], {"tools": ("saw",)}, ("tasks", 0, "needs", 1)),
        ([task("a")], {"limits": Limits(None, "b")}, ("limits", "close_out")),
    ],
)
def test_a_name_that_is_not_there_is_refused_where_it_is_used(
    tasks: list[Task], keys: dict[str, object], where: tuple[str | int, ...]
) -> None:
    assert path(procedure(*tasks, **keys)) == where


def test_a_name_that_is_not_there_is_met_with_the_name_most_like_it() -> None:
    assert (
        "did you mean “shut-valves”?"
        in only(procedure(task("shut-valves"), task("b", after=(After("shut-valve"),)))).remedy
    )
    assert "did you mean “EV1”?" in only(procedure(task("a", who=("ev1",)))).remedy
    assert "mean" not in only(procedure(task("a", after=(After("zzz"),)))).remedy


def test_tools_are_not_looked_for_when_none_are_listed() -> None:
    assert check(procedure(task("a", needs=("saw",)))) == ()


def test_without_a_crew_one_fault_tells_of_everyone() -> None:
    alone = procedure(task("a", who=("EV1",)), task("b", who=("EV2",)), crew=(), rounds=())
    assert path(alone) == ("crew",)


@pytest.mark.parametrize(
    ("made", "key"),
    [
        (step(takes=60).__class__("", 0, "x", Takes(60, 90, 120)), "takes"),
        (Step("", 0, "x", Takes(60, 30, 45)), "takes"),
        (step(count=0), "count"),
        (step(count=MOST_COUNT + 1), "count"),
        (step(who=("EV1",), confirm_by="EV1"), "confirm_by"),
    ],
)
def test_a_value_out_of_bounds_is_refused_at_its_key(made: Step, key: str) -> None:
    assert path(procedure(task("a", made))) == ("tasks", 0, "steps", 0, key)


def test_values_at_their_bounds_are_sound() -> None:
    steps = (
        Step("", 0, "x", Takes(60, 60, 60)),
        step(takes=0),
        step(count=1),
        step(count=MOST_COUNT),
        step(who=("EV1", "EV2"), confirm_by="EV1"),
        step(record=(Value("p", "kPa", 1, 1), Value("q", "kPa", None, 1), Value("r", "kPa"))),
    )
    assert check(procedure(task("a", *steps))) == ()


def test_a_tolerance_upside_down_is_refused() -> None:
    assert path(procedure(task("a", step(record=(Value("p", "kPa", 2, 1),)))))[-2:] == ("record", "p")


def test_a_person_named_twice_is_refused() -> None:
    assert path(procedure(task("a", who=("EV1", "EV1")))) == ("tasks", 0, "who", 1)
    assert path(procedure(task("a", step(go=("EV1", "EV1"))))) == ("tasks", 0, "steps", 0, "hold", "go", 1)


def test_a_round_that_comes_back_after_no_time_is_refused() -> None:
    assert path(procedure(task("a"), rounds=(Round("r", "?", ("EV1", "EV2"), 0),))) == ("rounds", 0, "every")


@pytest.mark.parametrize("spread", [(0.0, 1.0, 2.0), (1.1, 1.0, 2.0), (0.8, 1.0, 0.9), (-1.0, 1.0, 2.0)])
def test_a_spread_that_does_not_rise_is_refused(spread: tuple[float, float, float]) -> None:
    assert path(procedure(task("a"), spread=spread)) == ("spread",)


@pytest.mark.parametrize(
    ("spans", "number"),
    [([Span(10, 10)], 0), ([Span(10, 5)], 0), ([Span(0, 10), Span(5, 20)], 1), ([Span(50, 60), Span(0, 10)], 1)],
)
def test_openings_out_of_order_are_refused(spans: Iterable[Span], number: int) -> None:
    assert path(procedure(task("a"), windows=(Window("w", tuple(spans)),))) == ("windows", "w", number)


def test_openings_that_touch_are_sound() -> None:
    assert check(procedure(task("a"), windows=(Window("w", (Span(0, 10), Span(10, 20))),))) == ()


def test_a_step_longer_than_every_opening_is_refused_at_its_duration_and_only_there() -> None:
    long = procedure(task("a", step(takes=61), within="w"), windows=(Window("w", (Span(0, 60), Span(70, 100))),))
    assert path(long) == ("tasks", 0, "steps", 0, "takes")


def test_a_step_for_which_the_plan_leaves_no_opening_is_refused() -> None:
    late = procedure(
        task("a", step(takes=50), who=("EV1",)),
        task("b", step(takes=20), who=("EV1",), within="w"),
        windows=(Window("w", (Span(0, 60),)),),
    )
    assert path(late) == ("tasks", 1, "within")
    assert "00:00:50" in only(late).what


def test_worth_and_putting_off_go_together() -> None:
    assert path(procedure(task("a", worth=3))) == ("tasks", 0, "worth")
    assert path(procedure(task("a", may_put_off=True))) == ("tasks", 0, "may_put_off")
    assert path(procedure(task("a", may_put_off=True, worth=10))) == ("tasks", 0, "may_put_off")
    assert check(procedure(task("a", may_put_off=True, worth=9))) == ()


def test_a_get_ahead_item_may_not_also_be_put_off() -> None:
    assert path(procedure(task("b"), task("a", get_ahead=True, may_put_off=True, worth=3))) == ("tasks", 1, "get_ahead")


def test_the_close_out_must_be_done() -> None:
    limits = Limits(None, "a")
    assert path(procedure(task("a", get_ahead=True), task("b"), limits=limits)) == ("tasks", 0, "get_ahead")
    assert path(procedure(task("a", may_put_off=True, worth=1), limits=limits)) == ("tasks", 0, "may_put_off")


def test_a_nominal_task_may_not_wait_for_a_get_ahead_item() -> None:
    extra = task("x", get_ahead=True)
    assert path(procedure(extra, task("a", after=(After("x"),)))) == ("tasks", 1, "after", 0)
    assert path(procedure(extra, task("a", step(), step(after=(After("x", 1),))))) == (
        "tasks",
        1,
        "steps",
        1,
        "after",
        0,
    )
    assert check(procedure(task("a"), extra, task("y", get_ahead=True, after=(After("x"),)))) == ()


def remark(checked: Procedure) -> Fault:
    fault = only(checked)
    assert fault.remark
    return fault


def test_a_plan_that_finishes_after_the_limit_is_remarked_with_the_difference() -> None:
    fault = remark(procedure(task("a", step(takes=130)), limits=Limits(60)))
    assert fault.path == ("limits", "finish")
    assert "1m 10s after the limit" in fault.what
    assert check(procedure(task("a", step(takes=60)), limits=Limits(60))) == ()


def test_a_person_with_nothing_to_do_is_remarked() -> None:
    assert remark(procedure(task("a", who=("EV1",)), rounds=())).path == ("crew", "EV2")


def test_work_that_can_never_be_put_off_after_all_is_remarked_but_not_before_the_close_out() -> None:
    optional = task("a", may_put_off=True, worth=2)
    needs = task("b", after=(After("a"),))
    assert remark(procedure(optional, needs)).path == ("tasks", 1, "after", 0)
    assert check(procedure(optional, needs, limits=Limits(None, "b"))) == ()
    assert check(procedure(optional, replace(needs, may_put_off=True, worth=1))) == ()


def test_there_are_no_remarks_beside_faults() -> None:
    assert all(not fault.remark for fault in check(procedure(task("a", step(takes=90, count=0)), limits=Limits(60))))


def test_all_faults_come_in_one_go() -> None:
    faults = check(procedure(task("a", step(count=0, within="w"), who=("EV3",), after=(After("z"),)), spread=(2, 1, 1)))
    assert {fault.path[-1] for fault in faults} == {"count", "within", "spread", 0}
    assert len(faults) == 5


def test_names_are_not_looked_for_in_parts_that_could_not_be_read() -> None:
    made = procedure(
        task("a", step(count=0), who=("EV3",), within="w", after=(After("b"),), needs=("saw",)), tools=("x",)
    )
    assert len(check(made)) == 5
    assert [fault.path[-1] for fault in check(made, {"crew", "tasks", "windows", "tools"})] == ["count"]


def test_the_timeline_is_not_judged_when_anything_could_not_be_read() -> None:
    late = procedure(task("a", step(takes=90)), limits=Limits(60))
    assert len(check(late)) == 1
    assert check(late, ()) == ()


def test_the_number_of_faults_is_bounded() -> None:
    assert len(check(procedure(*(task(f"t{number}", who=("EV9",)) for number in range(300))))) == MOST_FAULTS
