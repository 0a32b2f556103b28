"""Made-up procedures with all that looking ahead has to deal with. They describe no real work."""

from dataclasses import replace

from app.core.procedure import Procedure
from app.core.situation import Prepared, Situation
from app.core.state import EMPTY
from app.reading.procedure_reader import read_procedure
from tests.bench.boards import STEPS_PER_TASK
from tests.core.building import procedure, task

OPTIONAL = 20
PEOPLE = 4
_OPEN_MIN, _EVERY_MIN = 60, 90


def text(steps: int, windows: bool = True, finish: str = "999:00") -> str:
    """Tasks of five steps dealt out to four people; every seventh needs two. No task that must be done waits for one of
    the OPTIONAL tasks; every third of those waits for the one before.

    Args:
        steps: at least 200.
        windows: every fifth task has to be done while a window is open: an hour in every hour and a half.
        finish: the limit.
    """
    count = steps // STEPS_PER_TASK
    lines = ["procedure: bench", "title: Bench", "zero: Start", "crew:"]
    lines += [f'  P{person}: {{does: "Works"}}' for person in range(PEOPLE)]
    lines += ["limits:", f"  finish: {finish}", f"  close_out: t{count - 1}"]
    if windows:
        spans = (f"[{_clock(start)}, {_clock(start + _OPEN_MIN)}]" for start in range(0, 3 * steps, _EVERY_MIN))
        lines += ["windows:", f"  pass: [{', '.join(spans)}]"]
    lines += ["tasks:"]
    for number in range(count):
        lines += _task(number, count // OPTIONAL, windows)
    return "\n".join(lines) + "\n"


def _task(number: int, apart: int, windows: bool) -> list[str]:
    optional = number % apart == 0
    who = [(number + number // PEOPLE) % PEOPLE]
    if number % 7 == 6 and not optional:
        who.append((who[0] + 1) % PEOPLE)
    must = [each for each in range(number) if each % apart]
    after = must[-1:] if optional else must[-3:-2]
    if optional and number // apart % 3 == 2:
        after = [*after, number - apart]
    lines = [f"  - task: t{number}", f"    title: Task {number}", f"    who: [{', '.join(f'P{each}' for each in who)}]"]
    lines += [f"    after: [{', '.join(f't{each}' for each in after)}]"] if after else []
    lines += ["    may_put_off: true", f"    worth: {1 + 7 * (number // apart) % 9}"] if optional else []
    lines += ["    within: pass"] if windows and number % 5 == 3 else []
    takes = [1 + (3 * number + part) % 7 for part in range(STEPS_PER_TASK)]
    steps = [f"      - {{do: Do part {part} of it, takes: {least} min}}" for part, least in enumerate(takes, 1)]
    return [*lines, "    steps:", *steps]


def _clock(minutes: int) -> str:
    return f"{minutes // 60}:{minutes % 60:02}"


def full(steps: int, windows: bool = True) -> Situation:
    """At zero, nothing done. Raises ValueError when the reader refuses it."""
    reading = read_procedure(text(steps, windows).encode())
    if reading.procedure is None:
        raise ValueError(reading.faults)
    return at_zero(reading.procedure)


def at_zero(of: Procedure) -> Situation:
    return Situation(Prepared(of), EMPTY, 0)


def parallel_chains(count: int) -> Procedure:
    """Three people, each with a chain of tasks of one step, `count` together, all of which may be put off one by one.
    The worth of each, 1 to 9, is a fifth of its minutes, so that no choice is plainly better than another: hard for
    branch and bound."""
    worths = [1 + 4 * number % 9 for number in range(count)]
    made = [
        replace(task(f"t{number}", [300 * worth], who=f"P{number % 3}", may_put_off=True), worth=worth)
        for number, worth in enumerate(worths)
    ]
    return procedure(*made)
