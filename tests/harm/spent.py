"""How long something took, and how much of that its process spent waiting for a core that others had. From /proc.

A machine that is busy with other work adds to every time. What a promise bounds in seconds is what the server itself
takes, so the longest that one of its threads stood in line meanwhile is taken off; both are shown.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

Line = dict[str, float]


@dataclass(frozen=True, slots=True)
class Took:
    """Seconds by the clock, and less the waiting for a core."""

    wall_s: float
    own_s: float


def in_line(pid: int) -> Line:
    """Seconds that each thread of a process has stood in line so far: the second number of its schedstat
    (Documentation/scheduler/sched-stats.rst). Of one that has ended until it is waited for; empty without /proc."""
    found = {}
    for thread in Path(f"/proc/{pid}/task").glob("*/schedstat"):
        try:
            found[thread.parent.name] = int(thread.read_text().split()[1]) / 1e9
        except (OSError, IndexError):
            continue  # It ended while we looked.
    return found


def since(began: float, before: Line, pid: int) -> Took:
    """From a monotonic moment `began`, at which `before` was read."""
    wall_s = time.monotonic() - began
    stood = max((now - before.get(thread, 0.0) for thread, now in in_line(pid).items()), default=0.0)
    return Took(wall_s, max(0.0, wall_s - stood))


def timed(pid: int, work: Callable[[], object]) -> Took:
    """What `work` takes of the process `pid`."""
    began, before = time.monotonic(), in_line(pid)
    work()
    return since(began, before, pid)
