"""Steps that wait for themselves or for one another are refused, and the circle is told arc by arc."""

from itertools import pairwise

import networkx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.checking import check
from app.core.checking_order import MOST_WORKERS
from app.core.network import Cycle, build
from app.core.procedure import After, Fault, Procedure, Task
from tests.core.making import only, procedure, step, task


@pytest.mark.parametrize(
    ("made", "where"),
    [
        (task("a", after=(After("a"),)), ("tasks", 0, "after", 0)),
        (task("a", after=(After("a", 1),)), ("tasks", 0, "after", 0)),
        (task("a", step(), step(after=(After("a"),))), ("tasks", 0, "steps", 1, "after", 0)),
        (task("a", step(), step(after=(After("a", 2),))), ("tasks", 0, "steps", 1, "after", 0)),
    ],
)
def test_what_waits_for_itself_is_refused(made: Task, where: tuple[str | int, ...]) -> None:
    fault = only(procedure(made))
    assert fault.path == where
    assert "waits for itself" in fault.what


def test_a_step_may_name_an_earlier_step_of_its_own_task() -> None:
    assert check(procedure(task("a", step(), step(after=(After("a", 1, 60),))))) == ()


def circle(*tasks: Task) -> Fault:
    checked = procedure(*tasks)
    with pytest.raises(Cycle):
        build(checked)
    fault = only(checked)
    assert fault.what.startswith("steps wait for one another in a circle: ")
    return fault


def reasons(fault: Fault) -> list[str]:
    return fault.what.removeprefix("steps wait for one another in a circle: ").split("; ")


def test_tasks_that_wait_for_one_another_are_a_circle_told_arc_by_arc() -> None:
    fault = circle(task("a", after=(After("c"),)), task("b", after=(After("a"),)), task("c", after=(After("b"),)))
    assert sorted(reasons(fault)) == ["a/1 waits for c/1", "b/1 waits for a/1", "c/1 waits for b/1"]
    assert fault.path == ("tasks", 0, "after", 0)


def test_a_circle_through_one_persons_list_is_told_with_the_list_and_how_to_mend_it() -> None:
    fault = circle(task("a", step(), step(after=(After("b"),)), who=("EV1",)), task("b", who=("EV1",)))
    assert sorted(reasons(fault)) == ["EV1's list: b/1 comes after a/2", "a/2 waits for b/1"]
    assert fault.path == ("tasks", 0, "steps", 1, "after", 0)
    assert "file order" in fault.remedy


def test_a_circle_through_two_peoples_lists_and_a_third_task_is_told() -> None:
    fault = circle(
        task("a", who=("EV1",), after=(After("d"),)),
        task("b", who=("EV1",)),
        task("c", who=("EV2",), after=(After("b"),)),
        task("d", who=("EV2",)),
    )
    assert sorted(reasons(fault)) == [
        "EV1's list: b/1 comes after a/1", "EV2's list: d/1 comes after c/1", "a/1 waits for d/1", "c/1 waits for b/1",
    ]  # fmt: skip


def test_a_circle_through_step_order_names_the_task() -> None:
    fault = circle(task("a", step(after=(After("a", 3),)), step(), step()))
    assert sorted(reasons(fault)) == [
        "a/1 waits for a/3", "step order in a: a/2 comes after a/1", "step order in a: a/3 comes after a/2",
    ]  # fmt: skip


def test_circles_apart_from_one_another_are_all_told() -> None:
    faults = check(procedure(*(task(name, after=(After(other),)) for name, other in ("ab", "ba", "cd", "dc"))))
    assert [fault.path for fault in faults] == [("tasks", 0, "after", 0), ("tasks", 2, "after", 0)]


def test_the_lists_of_get_ahead_items_make_no_circle_but_their_prerequisites_do() -> None:
    extra = task("x", who=("EV1",), get_ahead=True, after=(After("b"),))
    assert check(procedure(extra, task("b", who=("EV1",)))) == ()
    both = (task("x", get_ahead=True, after=(After("y"),)), task("y", get_ahead=True, after=(After("x"),)))
    assert "circle" in only(procedure(*both, task("a"))).what


def test_a_long_task_is_waited_for_as_a_whole_in_a_circle() -> None:
    long = task("a", *(step() for _ in range(30)), after=(After("b"),))
    assert "circle" in only(procedure(long, task("b", after=(After("a"),)))).what


def test_too_many_pairs_of_waits_are_refused() -> None:
    long = task("a", *(step() for _ in range(400)))
    many = [task(f"t{number}", after=(After("a"),)) for number in range(300)]
    assert "pairs of steps" in only(procedure(long, *many)).what


def test_too_many_people_in_too_many_steps_are_refused_and_as_many_as_may_be_are_not() -> None:
    two = ("EV1", "EV2")
    most = task("a", *(step() for _ in range(MOST_WORKERS // 2)), who=two)
    assert check(procedure(most)) == ()
    one_more = task("b", step(who=("EV1",)))
    assert f"{MOST_WORKERS + 1:,} people" in only(procedure(most, one_more)).what


@st.composite
def tangles(draw: st.DrawFn) -> Procedure:
    """Up to five tasks of up to three steps that wait for one another at random."""
    count = draw(st.integers(1, 5))
    names = [f"t{number}" for number in range(count)]
    lengths = [draw(st.integers(1, 3)) for _ in names]
    people = st.sampled_from([(), ("EV1",), ("EV2",), ("EV1", "EV2")])

    def waits(own: str) -> tuple[After, ...]:
        others = [number for number in range(count) if names[number] != own]
        chosen = draw(st.lists(st.sampled_from(others), max_size=1)) if others else []
        return tuple(After(names[n], draw(st.none() | st.integers(1, lengths[n]))) for n in chosen)

    made = [
        task(
            name,
            *(step(who=draw(people), after=waits(name)) for _ in range(lengths[number])),
            after=waits(name),
            get_ahead=draw(st.sampled_from([False, False, True])),
        )
        for number, name in enumerate(names)
    ]
    return procedure(*made)


def as_graph(tangle: Procedure) -> "networkx.DiGraph[str]":
    """What must be before what, straight from the definitions: step order, prerequisites, nominal lists."""
    graph: networkx.DiGraph[str] = networkx.DiGraph()
    graph.add_nodes_from(each.id for each in tangle.steps)
    for one in tangle.tasks:
        graph.add_edges_from((f"{one.id}/{number}", f"{one.id}/{number + 1}") for number in range(1, len(one.steps)))
    for later in tangle.steps:
        for link in later.after:
            targets = [link.step] if link.step else range(1, len(tangle.task(link.task).steps) + 1)
            graph.add_edges_from((f"{link.task}/{number}", later.id) for number in targets)
    for person in ("EV1", "EV2"):
        nominal = [each for one in tangle.tasks if not one.get_ahead for each in one.steps]
        mine = [each.id for each in nominal if person in each.who]
        graph.add_edges_from(pairwise(mine))
    return graph


@given(tangles())
def test_networkx_a_circle_is_told_exactly_when_the_graph_has_one(tangle: Procedure) -> None:
    told = any("circle" in fault.what for fault in check(tangle))
    assert told != networkx.is_directed_acyclic_graph(as_graph(tangle))
    if not told:
        assert len(build(tangle).order) == sum(len(one.steps) for one in tangle.tasks if not one.get_ahead)
