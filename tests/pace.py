"""How slow this machine is now, so that a bound in seconds means the same work on each.

HARM.md's seconds were said on a machine that took 0.65 s to import what the server stands on (CHECKS.md, section 2,
"server ready from a cold start", the reference in brackets). The same is timed here, in the same run: a machine that
takes twice as long for that has twice the seconds. One that is faster has no fewer.
"""

import subprocess
import sys
from functools import cache

REFERENCE_S = 0.65
"""Of the processor: fastapi, sqlmodel, jinja2 and numpy, imported by an interpreter of their own."""

SLOWEST = 4.0
"""So much slower than the reference a machine may be; beyond that its bounds do not grow."""

_TIMED = "import fastapi, sqlmodel, jinja2, numpy, time; print(time.process_time())"
_TRIES = 5


@cache
def slower() -> float:
    """How many times slower than the reference this machine is: 1 to `SLOWEST`. The best of several tries."""
    return min(max(_reference_s() / REFERENCE_S, 1.0), SLOWEST)


def bound(seconds: float) -> float:
    """As many seconds here as `seconds` on the reference."""
    return seconds * slower()


def _reference_s() -> float:
    words = [sys.executable, "-c", _TIMED]
    return min(float(subprocess.run(words, capture_output=True, check=True).stdout) for _ in range(_TRIES))
