"""Who waits for whom."""

from app.core.commands import GiveGo, SetNotNeeded
from app.core.waits import Wait, waits
from tests.core.building import link, procedure, step, task
from tests.core.running import Run

MADE = procedure(
    task("a", [100], who="EV1"),
    task("b", [300], who="EV2"),
    task("c", [50], who="GROUND", after=[link("a", 500), "b"]),
    task("d", [50], who="EV1", after=["a"]),
    task("e", [50], who=("EV1", "EV2"), after=["c"]),
)


def test_of_several_prerequisites_the_one_met_last_is_named_waits_included() -> None:
    first, second = waits(Run(MADE).at(0))
    assert first == Wait(600, ("GROUND",), "c/1", ("EV1",), "a/1")
    assert second == Wait(650, ("EV1", "EV2"), "e/1", ("GROUND",), "c/1")


def test_nobody_waits_for_oneself_nor_for_what_is_done() -> None:
    run = Run(MADE).mark(a_1=100)
    assert [(wait.step, wait.on) for wait in waits(run.at(100))] == [("c/1", ("EV2",)), ("e/1", ("GROUND",))]
    run.mark(b_1=300)
    assert [wait.step for wait in waits(run.at(300))] == ["e/1"]


def test_a_hold_under_way_waits_for_those_who_have_not_given_a_go() -> None:
    made = procedure(task("stop", [step(60, go=("EV1", "EV2"))], who="ARM"), crew=("EV1", "EV2", "ARM"))
    run = Run(made)
    assert waits(run.at(10)) == (Wait(60, ("ARM",), "stop/1", ("EV1", "EV2"), None),)
    run.order(GiveGo("stop/1", "EV1"), 70)
    assert waits(run.at(80)) == (Wait(80, ("ARM",), "stop/1", ("EV2",), None),)
    run.order(GiveGo("stop/1", "EV2"), 90)
    assert waits(run.at(90)) == ()


def test_a_wait_is_seen_through_a_step_that_is_not_needed() -> None:
    made = procedure(task("a", [100], who="EV1"), task("b", [50], after=["a"]), task("c", [50], who="ARM", after=["b"]))
    run = Run(made)
    run.order(SetNotNeeded("b/1", "cut"), 0)
    assert waits(run.at(0)) == (Wait(100, ("ARM",), "c/1", ("EV1",), "a/1"),)
