"""Times calls and picks percentiles. All times in milliseconds."""

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
        began = time.perf_counter()
        call()
        found.append((time.perf_counter() - began) * 1000)
    return found


def median(call: Callable[[], object], times: int = 15) -> float:
    return statistics.median(timed(call, times))


def side_by_side(call: Callable[[], object], reference: Callable[[], object], times: int = 31) -> tuple[float, float]:
    """Medians of the two, called in turn: what else the machine does falls on both alike."""
    call(), reference()
    ours, theirs = [], []
    gc.collect()
    for _ in range(times):
        began = time.perf_counter()
        call()
        between = time.perf_counter()
        reference()
        theirs.append((time.perf_counter() - between) * 1000)
        ours.append((between - began) * 1000)
    return statistics.median(ours), statistics.median(theirs)
