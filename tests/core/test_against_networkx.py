"""The forward and backward pass against longest paths by networkx, on random networks with waits and people."""

import networkx as nx
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.procedure import Procedure
from app.core.situation import Prepared
from tests.core.building import link, procedure, task

START, END = "the start", "the end"


@st.composite
def networks(draw: st.DrawFn) -> tuple[Procedure, "nx.DiGraph[str]"]:
    """A procedure of one-step tasks, and the same as a graph: an edge weighs what it takes from start to start."""
    count = draw(st.integers(1, 14))
    takes = draw(st.lists(st.integers(0, 50), min_size=count, max_size=count))
    people = draw(st.lists(st.sampled_from(["", "", "EV1", "EV2"]), min_size=count, max_size=count))
    graph: nx.DiGraph[str] = nx.DiGraph()
    last: dict[str, int] = {}
    tasks = []
    for number in range(count):
        name = f"t{number}"
        graph.add_edge(START, name, weight=0)
        graph.add_edge(name, END, weight=-takes[number])
        links = []
        earlier = st.tuples(st.integers(0, number - 1), st.integers(0, 30)) if number else st.nothing()
        for before, wait_s in draw(st.lists(earlier, max_size=3, unique_by=lambda pair: pair[0])) if number else []:
            links.append(link(f"t{before}", wait_s))
            graph.add_edge(f"t{before}", name, weight=-(takes[before] + wait_s))
        if people[number] in last:
            before = last[people[number]]
            weight = min(-takes[before], graph.get_edge_data(f"t{before}", name, {"weight": 0})["weight"])
            graph.add_edge(f"t{before}", name, weight=weight)
        if people[number]:
            last[people[number]] = number
        tasks.append(task(name, [takes[number]], who=people[number], after=links))
    return procedure(*tasks), graph


def _longest(graph: "nx.DiGraph[str]", source: str) -> dict[str, int]:
    """Longest paths as shortest paths over negative weights (Bellman and Ford)."""
    lengths = nx.single_source_bellman_ford_path_length(graph, source)
    return {node: -int(length) for node, length in lengths.items()}


@settings(max_examples=150, deadline=None)
@given(made=networks())
def test_each_start_is_the_longest_path_to_it(made: tuple[Procedure, "nx.DiGraph[str]"]) -> None:
    prepared, longest = Prepared(made[0]), _longest(made[1], START)
    assert prepared.plan.end_s == longest[END]
    for number, step in enumerate(prepared.network.steps):
        assert prepared.plan.times(number)[0] == longest[step.task]


@settings(max_examples=150, deadline=None)
@given(made=networks())
def test_each_late_start_is_the_end_less_the_longest_path_from_it(made: tuple[Procedure, "nx.DiGraph[str]"]) -> None:
    prepared, longest = Prepared(made[0]), _longest(made[1].reverse(), END)
    for number, step in enumerate(prepared.network.steps):
        assert prepared.late.start_s[number] == prepared.plan.end_s - longest[step.task]
        assert prepared.late.finish_s[number] == prepared.plan.end_s - longest[step.task] + step.takes.likely_s
