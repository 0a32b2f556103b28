"""The forecast and what is read off it: pure calls on a board at zero, no server.

*Everything* is the draws, the walk, and the figures of the team, of each person and of each window. The reference is
the walk alone, written out bare for the same durations: one contiguous row of float32 a step, the rows of what it
waits for worked out before, and neither windows nor facts to look at. So the kernel is held to it without windows.
"""

import statistics
import subprocess
import sys
import time
from collections.abc import Callable

import numpy as np

from app.core.forecast import DRAWS, Draws, forecast
from app.core.kernel import Rows
from app.core.network import Network
from app.core.outlook import compared, outlook
from app.core.situation import Situation
from app.core.what_if import what_if
from app.service.far import draw
from tests.bench.full_boards import full
from tests.bench.report import Figure, Measures, Row, spread
from tests.bench.timing import side_by_side, timed

CHANGES = ("P1 loses 15 min", "t9/2 takes 40 min", "put off t0")


def everything(situation: Situation) -> None:
    forecast(draw(situation))


def bare_walk(network: Network, durations: Rows) -> Callable[[], Rows]:
    """The reference, over the transpose of [K, n] durations."""
    takes = np.ascontiguousarray(durations.T)
    last: dict[int, int] = {}
    before: list[tuple[int, list[tuple[int, int]]]] = []
    for step in network.order:
        waits = {last[seat]: 0 for seat in network.people[step] if seat in last} | dict(network.before[step])
        before.append((step, list(waits.items())))
        last |= dict.fromkeys(network.people[step], step)

    def walk() -> Rows:
        ends, scratch = np.empty_like(takes), np.empty(takes.shape[1], dtype=takes.dtype)
        for step, waits in before:
            row, ready = ends[step], None
            for earlier, wait_s in waits:
                each = np.add(ends[earlier], wait_s, out=scratch) if wait_s else ends[earlier]
                ready = each if ready is None else np.maximum(ready, each, out=row)
            np.copyto(row, takes[step]) if ready is None else np.add(ready, takes[step], out=row)
        return ends

    return walk


def kernel_and_bare(steps: int, windows: bool = False) -> tuple[float, float]:
    """Milliseconds of the kernel's walk and of the bare one over the same draws, in turn.

    Raises:
        ValueError: without windows the two find different finishes.
    """
    draws = Draws(full(steps, windows), np.random.Generator(np.random.SFC64(1)))
    kernel, walk = draws.kernel(), bare_walk(draws.situation.network, draws.durations)
    if not windows and not np.allclose(kernel.finishes(draws.durations).T, walk(), rtol=1e-5):
        raise ValueError("the kernel and the bare walk differ")
    ours, bare = side_by_side(lambda: kernel.finishes(draws.durations), walk, 15)
    return statistics.median(ours), statistics.median(bare)


def first(steps: int) -> float:
    """Milliseconds by the clock of the first forecast of a process, tables and all; NumPy is there already."""
    situation = full(steps)
    began = time.perf_counter()
    everything(situation)
    return (time.perf_counter() - began) * 1000


def _cold(steps: int) -> float:
    asked = f"from tests.bench.forecasts import first; print(first({steps}))"
    return float(subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True).stdout)


def _row(steps: int, budget_ms: float, most: float | None) -> Row:
    situation = full(steps)
    times = timed(lambda: everything(situation), 31)
    ours, bare = kernel_and_bare(steps)
    windows, _ = kernel_and_bare(steps, windows=True)
    return Row(
        f"Forecast, {steps:,} steps × {DRAWS:,} draws, everything",
        (
            *spread(times, p50=budget_ms),
            Figure("first of a process, by the clock", _cold(steps), "ms"),
            Figure("kernel alone, no windows, in bare walks", ours / bare, "x", most),
            Figure("kernel alone, no windows", ours, "ms"),
            Figure("kernel alone, with windows", windows, "ms"),
        ),
        f"a bare walk in NumPy, a contiguous row a step, float32: {bare:.2f} ms",
    )


def _outlook(steps: int) -> Row:
    """Forecast, options with their chances, best set, critical chain: what one look at the Lead board may cost."""
    situation = full(steps)

    def ahead() -> None:
        outlook(situation, draw)

    return Row(f"The whole outlook, {steps:,} steps, in one process", spread(timed(ahead, 7)))


def _what_if() -> Row:
    situation = full(200)

    def tried() -> None:
        compared(situation, what_if(situation, CHANGES), draw)

    return Row(
        "What if, three changes, 200 steps: the order of each tried, and two forecasts",
        spread(timed(tried, 11)),
    )


ROWS: Measures = {
    "200": lambda: _row(200, 25, 2),
    "1000": lambda: _row(1000, 150, None),
    "outlook": lambda: map(_outlook, (200, 1000)),
    "what-if": _what_if,
}
