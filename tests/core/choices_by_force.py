"""Every choice of tasks to put off, each as a run in which they really are; and longest paths without them."""

from itertools import combinations

import networkx as nx

from app.core.choices import goes_with
from app.core.events import TasksPutOff
from app.core.procedure import Procedure, TaskId
from app.core.putting_off import Options
from app.core.situation import Situation
from app.core.suppose import suppose

Chosen = frozenset[TaskId]


def worth_of(made: Procedure, chosen: Chosen) -> int:
    return sum(made.task(each).worth for each in chosen)


def may_go(situation: Situation) -> dict[TaskId, Chosen]:
    """Each task that an order to put off would be taken for now and that has something left, with all that goes too."""
    made, state = situation.procedure, situation.state
    found = {}
    for each in made.tasks:
        along, bars = goes_with(made, each.id)
        left = any(situation.is_open(situation.network.index[step.id]) for step in each.steps)
        if each.may_put_off and left and not bars and not any(state.begun(other) for other in along):
            found[each.id] = frozenset(along) - set(state.put_off)
    return found


def put_off(situation: Situation, chosen: Chosen) -> Situation:
    event = TasksPutOff(tuple(each.id for each in situation.procedure.tasks if each.id in chosen), "late")
    return suppose(situation, [event])


def every_choice(situation: Situation) -> dict[Chosen, Situation]:
    """Each set of tasks that can be put off together, and the run without them."""
    closures = may_go(situation)
    found = {}
    for size in range(1, len(closures) + 1):
        for some in combinations(closures, size):
            chosen = frozenset(some)
            if all(closures[each] & closures.keys() <= chosen for each in chosen):
                found[chosen] = put_off(situation, chosen)
    return found


def front_of(situation: Situation, every: dict[Chosen, Situation]) -> list[tuple[int, int]]:
    """(worth lost, finish) of the choices that no other one beats and that win time."""
    figures = {(worth_of(situation.procedure, each), then.projection.end_s) for each, then in every.items()}
    figures |= {(0, situation.projection.end_s)}
    best = [one for one in figures if not any(o != one and o[0] <= one[0] and o[1] <= one[1] for o in figures)]
    return sorted(one for one in best if one[1] < situation.projection.end_s)


def longest_s(made: Procedure, off: Chosen) -> int:
    """The longest path over a graph of its own: from the step before to the step, as long as that takes and waits.

    What is put off is a node that takes no time and has no people; one that only it leads to does not count.
    """
    graph: nx.DiGraph[str] = nx.DiGraph()
    takes = {one.id: 0 if one.task in off else one.takes.likely_s for one in made.steps}
    graph.add_node("end")
    last: dict[str, str] = {}

    def join(earlier: str, later: str, weight: int) -> None:
        known = graph.get_edge_data(earlier, later, {"weight": -1})["weight"]
        graph.add_edge(earlier, later, weight=max(weight, known))

    for one in made.steps:
        if one.task not in off:
            join(one.id, "end", takes[one.id])
        if one.number > 1:
            join(f"{one.task}/{one.number - 1}", one.id, takes[f"{one.task}/{one.number - 1}"])
        for each in one.after:
            for earlier in made.task(each.task).steps:
                if each.step in (None, earlier.number):
                    join(earlier.id, one.id, takes[earlier.id] + each.wait_s)
        for person in one.who if one.task not in off else ():
            if person in last:
                join(last[person], one.id, takes[last[person]])
            last[person] = one.id
    return int(nx.dag_longest_path_length(graph.subgraph([*nx.ancestors(graph, "end"), "end"])))


def figures(found: Options) -> list[tuple[int, int]]:
    """Worth lost and finish of each option."""
    return [(each.worth, each.finish_s) for each in found.options]
