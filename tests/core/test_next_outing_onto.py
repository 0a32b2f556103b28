"""Carried work at the head of the next outing's own file: what is brought along, what gives way, what is renamed."""

from dataclasses import replace

from app.core.events import (
    StepAdded,
    StepMarked,
)
from app.core.next_outing import replaced
from app.core.procedure import After
from tests.core.building import procedure, step, task
from tests.core.leaving import after, left, mast


def test_carried_work_stands_at_the_head_with_the_people_tools_and_windows_it_needs() -> None:
    rig = replace(task("rig", [step(60), step(60, within="day")], who=("EV1",)), needs=("saw",))
    made = replace(procedure(rig, windows={"day": [(0, 999)]}), tools=("saw",))
    lamp = replace(task("lamp", [60], who=("EV3",)), needs=("torch",))
    following = replace(procedure(lamp), id="lamps", tools=("torch",))
    found = left(made, StepMarked("rig/1"), following=following)
    assert found.id == "lamps"
    assert [each.id for each in found.tasks] == ["rig", "lamp"]
    assert [each.designator for each in found.crew] == ["EV3", "EV1"]
    assert found.tools == ("torch", "saw")
    assert [each.name for each in found.windows] == ["day"]


def test_a_file_that_lists_no_tools_goes_on_listing_none() -> None:
    rig = replace(task("rig", [60], who=("EV1",)), needs=("saw",))
    lamp = replace(task("lamp", [60], who=("EV1",)), needs=("torch",))
    assert left(replace(procedure(rig), tools=("saw",)), following=procedure(lamp)).tools == ()


def test_its_own_close_out_is_not_brought_along() -> None:
    following = procedure(task("lamp", [60], who=("EV1",)), task("in", [60], who=("EV1",)), close_out="in")
    found = left(mast(), following=following)
    assert [each.id for each in found.tasks] == ["rig", "lamp", "in"]
    assert found.limits.close_out == "in"


def test_the_same_work_planned_again_gives_way_and_what_waited_for_it_still_does() -> None:
    rig = task("rig", [60, 60, 60], who=("EV1",))
    wait = task("wire", [step(60, after=["rig/1"]), step(60, after=[After("rig", 3, 30)])], who=("EV2",))
    following = procedure(rig, wait)
    state = after(StepMarked("rig/1"))
    assert replaced(mast(), state, following) == ("rig",)
    found = left(mast(), StepMarked("rig/1"), following=following)
    assert [len(each.steps) for each in found.tasks] == [2, 2]
    assert [each.after for each in found.task("wire").steps] == [(), (After("rig", 2, 30),)]


def test_other_work_of_the_same_name_is_kept_and_the_carried_task_gets_another() -> None:
    other = task("rig", [step(60, "Rig the lamp")], who=("EV1",))
    taken = task("rig-carried", [60], who=("EV1",))
    added = StepAdded("added-1", "Look", ("EV1",), 60, (("rig", 3),), (), "new")
    found = left(mast(), StepMarked("rig/1"), added, following=procedure(other, taken, crew=("EV1", "EV2")))
    assert [each.id for each in found.tasks] == ["rig-carried-2", "added-1", "rig", "rig-carried"]
    assert found.task("rig") == other
    assert found.step("added-1/1").after == (After("rig-carried-2", 2),)
    assert replaced(mast(), after(StepMarked("rig/1")), procedure(other)) == ()


def test_its_close_out_never_gives_way() -> None:
    """What is left of a task that there is the close-out would be no close-out."""
    rig = task("rig", [60, 60, 60], who=("EV1",))
    found = left(mast(), StepMarked("rig/1"), following=procedure(rig, crew=("EV1",), close_out="rig"))
    assert [(each.id, len(each.steps)) for each in found.tasks] == [("rig-carried", 2), ("rig", 3)]
