"""Plan and projection of 1,000 steps, half way through a run, and the offers: pure calls, no server."""

import statistics
from collections.abc import Callable

from app.core.choices import offers
from app.core.network import Network
from app.core.passes import plan, project
from tests.bench import boards
from tests.bench.report import Figure, Measures, Row, spread
from tests.bench.timing import side_by_side, timed


def straight_pass(network: Network) -> Callable[[], list[int]]:
    """The reference: one forward pass over plain lists, without windows, marks or recorded starts."""
    order, before = list(network.order), [list(links) for links in network.before]
    takes, people, crew = list(network.takes_s), [list(each) for each in network.people], len(network.crew)

    def walk() -> list[int]:
        finish, free = [0] * len(takes), [0] * crew
        for step in order:
            ready = 0
            for earlier, wait_s in before[step]:
                ends = finish[earlier] + wait_s
                if ends > ready:
                    ready = ends
            for person in people[step]:
                if free[person] > ready:
                    ready = free[person]
            ready += takes[step]
            finish[step] = ready
            for person in people[step]:
                free[person] = ready
        return finish

    return walk


def both(steps: int) -> tuple[list[float], list[float]]:
    """Milliseconds of plan and projection together, and of the straight pass, measured in turn."""
    now = boards.situation(steps)

    def ours() -> None:
        plan(now.prepared.network)
        project(now.network, now.facts, now.at_s)

    return side_by_side(ours, straight_pass(now.prepared.network), 101)


def _passes() -> Row:
    times, passes = both(1000)
    ours, reference = statistics.median(times), statistics.median(passes)
    return Row(
        "Plan and projection, 1,000 steps",
        (
            *spread(times, p50=5, name="both"),
            Figure("both in straight passes", ours / reference, "x", 3),
            Figure("each of the two, in straight passes", ours / reference / 2, "x"),
        ),
        f"one straight pass over lists: {reference:.2f} ms",
    )


def _offers() -> Row:
    """No budget is given for these; a screen asks for them every second, so they are shown."""
    now = boards.situation(1000, extra=5)
    times = timed(lambda: offers(now), 5)
    return Row("Offers: 5 get-ahead items, each at every gap, 1,000 steps", spread(times, name="all"))


ROWS: Measures = {"passes": _passes, "offers": _offers}
