"""Times calls and picks percentiles. All times in milliseconds.

Calls inside this process are timed by the processor time of their thread: what else a shared machine does meanwhile is
not in it, and on an idle one it is what a person waits. Everything that goes over a connection is timed by the clock.
"""

import gc
import statistics
import time
from collections.abc import Callable, Sequence


def percentile(values: Sequence[float], per_cent: float) -> float:
    """The smallest value that so many per cent of the values do not pass (nearest rank)."""
    ranked = sorted(values)
    return ranked[max(0, -(-len(ranked) * per_cent // 100).__int__() - 1)]


def timed(call: Callable[[], object], times: int = 15) -> list[float]:
    """How long each of so many calls took, after one that is not counted."""
    call()
    found = []
    gc.collect()
    for _ in range(times):
        began = time.thread_time()
        call()
        found.append((time.thread_time() - began) * 1000)
    return found


def median(call: Callable[[], object], times: int = 15) -> float:
    return statistics.median(timed(call, times))


def side_by_side(
    call: Callable[[], object], reference: Callable[[], object], times: int = 31
) -> tuple[list[float], list[float]]:
    """The times of the two, called in turn. What a call returns is let go after its time was taken."""
    call(), reference()
    ours, theirs = list[float](), list[float]()
    gc.collect()
    for _ in range(times):
        for each, found in ((call, ours), (reference, theirs)):
            began = time.thread_time()
            made = each()
            found.append((time.thread_time() - began) * 1000)
            del made
    return ours, theirs
