"""Growth: ten times the steps may cost ten times as much, twenty live runs twenty times as much, and no more."""

import asyncio
import statistics
import time
from collections.abc import Sequence
from contextlib import AsyncExitStack

from tests.bench import boards
from tests.bench.arithmetic import both
from tests.bench.forecasts import everything
from tests.bench.full_boards import full
from tests.bench.marks import step_ids
from tests.bench.pages import UNCOUNTED, half_done, page_times
from tests.bench.report import Figure, Measures, Row
from tests.bench.serving import Served, leadline, start_run
from tests.bench.timing import median
from tests.bench.wire import Line, Screens

WATCHED_S = 4.0


def _steps() -> Row:
    small, large = (statistics.median(both(steps)[0]) for steps in (200, 2000))
    few, many = forecasting(200), forecasting(2000)
    desk, mark = zip(_served(200), _served(2000), strict=True)
    return Row(
        "Growth, 200 → 2,000 steps",
        (
            Figure("plan and projection", large / small, "x", 10),
            Figure("forecast, 10,000 draws", many / few, "x", 10),
            Figure("Desk, server time", desk[1] / desk[0], "x", 10),
            Figure("one mark", mark[1] / mark[0], "x", 10),
        ),
        f"at 200 steps: {small:.2f} ms, {few:.1f} ms, {desk[0]:.1f} ms, {mark[0]:.1f} ms; "
        f"at 2,000: {large:.2f} ms, {many:.1f} ms, {desk[1]:.1f} ms, {mark[1]:.1f} ms",
    )


def forecasting(steps: int) -> float:
    """Milliseconds of a forecast without windows: how many openings there are goes with the length of the run, too."""
    situation = full(steps, windows=False)
    return median(lambda: everything(situation), 7)


def _served(steps: int) -> tuple[float, float]:
    """Milliseconds: processor time of the Desk, and the median of a mark by the clock."""
    with leadline({"bench.yaml": boards.text(steps)}) as served:
        run = asyncio.run(half_done(served, steps))
        asyncio.run(page_times(served, f"/runs/{run}/desk", 5))
        busy_s = served.busy_s()
        desk = asyncio.run(page_times(served, f"/runs/{run}/desk", 20))
        spent = (served.busy_s() - busy_s) * 1000 / (len(desk) + UNCOUNTED)
        return spent, statistics.median(asyncio.run(_some_marks(served, run, steps)))


async def _some_marks(served: Served, run: int, steps: int) -> list[float]:
    found = []
    async with Line(served.port) as line:
        for step in step_ids(steps)[steps // 2 : steps // 2 + 60]:
            began = time.perf_counter()
            await line.send("POST", f"/api/runs/{run}/marks", {"step": step})
            found.append((time.perf_counter() - began) * 1000)
    return found


def _runs() -> Row:
    """Each run has five screens open. What the ticks cost is the server's processor time while nobody marks."""
    with leadline({"bench.yaml": boards.text(200)}) as served:
        one_mark, one_busy = asyncio.run(_watched(served, 1))
        many_mark, many_busy = asyncio.run(_watched(served, 20))
    return Row(
        "Growth, 1 → 20 live runs of 200 steps, 5 screens each",
        (
            Figure("one mark", many_mark / one_mark, "x", 20),
            Figure("processor time of the ticks", many_busy / max(one_busy, 0.001), "x", 20),
        ),
        f"1 run: a mark {one_mark:.1f} ms, ticks {one_busy * 100:.1f} % of a core; "
        f"20 runs: {many_mark:.1f} ms, {many_busy * 100:.1f} %",
    )


async def _watched(served: Served, count: int) -> tuple[float, float]:
    """(Milliseconds of a mark in one of so many watched runs, seconds of processor time per second before that)."""
    async with AsyncExitStack() as stack:
        line = await stack.enter_async_context(Line(served.port))
        runs = [await start_run(line) for _ in range(count)]
        for run in runs:
            await stack.enter_async_context(Screens(served.port, f"/api/runs/{run}/live", 5))
        busy, began = served.busy_s(), time.perf_counter()
        await asyncio.sleep(WATCHED_S)
        spent = (served.busy_s() - busy) / (time.perf_counter() - began)
        return statistics.median(await _marks_across(line, runs)), spent


async def _marks_across(line: Line, runs: Sequence[int]) -> list[float]:
    found = []
    for place, step in enumerate(step_ids(200)[:100]):
        began = time.perf_counter()
        await line.send("POST", f"/api/runs/{runs[-1]}/marks", {"step": step})
        found.append((time.perf_counter() - began) * 1000)
        await asyncio.sleep(0.01 * (place % 2))
    return found


ROWS: Measures = {"steps": _steps, "runs": _runs}
