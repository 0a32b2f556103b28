"""Made-up procedures of any size for the bench, as text and as values. They describe no real work."""

from app.core.events import Logged, RunStarted, StepMarked
from app.core.fold import fold
from app.core.procedure import Procedure
from app.core.situation import Prepared, Situation
from app.core.state import State
from app.reading.procedure_reader import read_procedure
from tests.store.making import NOON

STEPS_PER_TASK = 5


def text(steps: int, people: int = 4, extra: int = 0, crossed: bool = True, name: str = "bench") -> str:
    """A procedure file: tasks of five steps dealt out to the people in turn, each after its person's last one.

    Args:
        extra: so many get-ahead items of one step.
        crossed: every third task also waits for the task before it, which is another person's.
    """
    lines = [f"procedure: {name}", "title: Bench", "zero: Start", "crew:"]
    lines += [f'  P{person}: {{does: "Works"}}' for person in range(people)]
    lines += ["limits:", "  finish: 999:00", f"  close_out: t{steps // STEPS_PER_TASK - 1}", "tasks:"]
    for task in range(steps // STEPS_PER_TASK):
        lines += _task(task, people, crossed)
    for item in range(extra):
        lines += [f"  - task: x{item}", f"    title: Extra {item}", f"    who: P{item % people}", "    get_ahead: true"]
        lines += ["    steps:", "      - {do: Do some extra work, takes: 2 min}"]
    return "\n".join(lines) + "\n"


def _task(task: int, people: int, crossed: bool) -> list[str]:
    after = [f"t{task - people}"] if task >= people else []
    if crossed and task % 3 == 2:
        after.append(f"t{task - 1}")
    lines = [f"  - task: t{task}", f"    title: Task {task}", f"    who: P{task % people}"]
    if after:
        lines.append(f"    after: [{', '.join(after)}]")
    takes = [1 + (task + part) % 7 for part in range(STEPS_PER_TASK)]
    steps = [f"      - {{do: Do part {part} of it, takes: {least} min}}" for part, least in enumerate(takes, 1)]
    return [*lines, "    steps:", *steps]


def procedure(steps: int, people: int = 4, extra: int = 0) -> Procedure:
    """The same, read. Raises ValueError when the reader refuses it."""
    reading = read_procedure(text(steps, people, extra).encode())
    if reading.procedure is None:
        raise ValueError(reading.faults)
    return reading.procedure


def halfway(prepared: Prepared) -> tuple[State, int]:
    """A run of it where each step was done a minute after its plan, up to half the plan; and the elapsed second."""
    at_s = prepared.plan.end_s // 2
    ends = {step: prepared.plan.times(step)[1] + 60 for step in prepared.network.order}
    done = sorted((end, step) for step, end in ends.items() if end <= at_s)
    events = [Logged(1, 0, 0, NOON, "", "", "", RunStarted("", "live", ""))]
    for seq, (end, step) in enumerate(done, start=2):
        events.append(Logged(seq, end, end, NOON, "", "", "", StepMarked(prepared.network.steps[step].id)))
    return fold(events), at_s


def situation(steps: int, people: int = 4, extra: int = 0) -> Situation:
    """Half way through such a run."""
    prepared = Prepared(procedure(steps, people, extra))
    state, at_s = halfway(prepared)
    return Situation(prepared, state, at_s)
