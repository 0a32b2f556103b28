"""How slow this machine is now, so that a bound in seconds means the same work on each.

HARM.md's seconds were said on a machine that took 0.65 s to import what the server stands on (CHECKS.md, section 2,
"server ready from a cold start", the reference in brackets). Where a bound is not kept, the same is timed here, at that
moment: a machine that takes twice as long for that has twice the seconds. One that is faster has no fewer.
"""

import statistics
import subprocess
import sys
from collections.abc import Callable

REFERENCE_S = 0.65
"""`IMPORTS` by an interpreter of its own. CHECKS.md has it by the clock; here it is held against seconds of the
processor, which are no more than those, so no machine is given more for it."""

IMPORTS = "import fastapi, sqlmodel, jinja2, numpy"

SLOWEST = 4.0
"""So much slower than the reference a machine may be; beyond that its bounds do not grow."""

_TIMED = f"{IMPORTS}, time; print(time.process_time())"


def slower(reference_s: float) -> float:
    """How many times slower than the reference a machine is that takes so long for it: 1 to `SLOWEST`."""
    return min(max(reference_s / REFERENCE_S, 1.0), SLOWEST)


def pace() -> float:
    """`slower` of this machine now: the middle one of three tries."""
    return slower(statistics.median(reference_s() for _ in range(3)))


def within(took_s: float, bound_s: float) -> bool:
    """Whether what just took so long kept a bound that was said on the reference."""
    return took_s < bound_s or took_s < bound_s * pace()


def again_within(again: Callable[[], float], bound_s: float) -> bool:
    """Does it again, which gives the seconds it took, with the machine timed before and after; the slower pace counts.

    For what was measured with much else, some time ago: the pace of a shared machine changes within a minute.
    """
    before = pace()
    took_s = again()
    return took_s < bound_s * max(before, pace())


def reference_s() -> float:
    """What `IMPORTS` takes of the processor now."""
    words = [sys.executable, "-c", _TIMED]
    return float(subprocess.run(words, capture_output=True, check=True).stdout)
