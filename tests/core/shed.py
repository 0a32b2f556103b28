"""A procedure of people who share tools, for the tests of `custody`; it moves none."""

from dataclasses import replace

from app.core.commands_live import MoveTool
from app.core.procedure import Procedure, Task
from tests.core.building import link, procedure, task
from tests.core.running import Run

SAW, FILE, LAMP = "saw", "file", "lamp"
TOOLS = (SAW, FILE, LAMP)


def with_needs(made: Task, *needs: str, where: str = "") -> Task:
    return replace(made, needs=needs, where=where)


def yard() -> Procedure:
    made = procedure(
        with_needs(task("cut", [600], who="EV1"), SAW, where="Bay 4 left"),
        with_needs(task("trim", [600], who=("EV1", "EV2"), after=[link("cut")]), SAW, FILE),
        with_needs(task("polish", [60], who="EV2", may_put_off=True), FILE),
        task("home", [60], who=("EV1", "EV2"), after=[link("trim")]),
        with_needs(task("extra", [60], who="EV2", get_ahead=True), FILE, where="bay 3"),
        close_out="home",
        crew=("EV1", "EV2", "ARM"),
    )
    return replace(made, tools=TOOLS)


def run_with(*moves: tuple[int, MoveTool]) -> Run:
    """A run in which tools were moved so, each at its second."""
    run = Run(yard())
    for at_s, command in moves:
        run.order(command, at_s)
    return run


def one_by_one(*moves: MoveTool) -> Run:
    """The moves at 10 s, 20 s, and so on."""
    return run_with(*((10 * number, each) for number, each in enumerate(moves, start=1)))


def taken(who: str = "EV1", tool: str = SAW) -> MoveTool:
    return MoveTool(tool, "taken", who)


LEFT = MoveTool(SAW, "left", None, "bay 4 left")
LOST = MoveTool(SAW, "lost", None, "bay 3", "drifted off")
STOWED = MoveTool(SAW, "stowed")
OUTSIDE = MoveTool(SAW, "left outside", reason="stuck in the rail")
