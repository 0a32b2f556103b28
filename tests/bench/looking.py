"""Looking ahead on a real server: what it costs a mark, and the Lead board.

Marks go out one after another, 10 ms apart, on a board at an hour on the clock. In one block of ten nobody looks; in
the next a client asks for the outlook, again as soon as it is answered, and the server makes it anew as often as it
ever does, a quarter of the time; in the third it asks what would be if, of which each answer is two new forecasts,
and nothing bounds it but that it is one client. Blocks in turn, because a busy machine moves all three.
"""

import asyncio
import itertools
import statistics
import time
import uuid
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from tests.bench import full_boards, pages
from tests.bench.marks import step_ids
from tests.bench.report import Figure, Measures, Row
from tests.bench.serving import Served, leadline, start_run
from tests.bench.timing import percentile
from tests.bench.wire import Line

RUNS = 3
MARKS = 180
"""Of each run; the last two tasks of the smaller board stay open."""
BLOCK = 10
APART_S = 0.01
PAGES = 30
NOBODY = ""
OUTLOOK = "/api/runs/{run}/outlook"
WHAT_IF = "/api/runs/{run}/what-if?if=t39/5%20takes%2040%20min"
Times = dict[str, list[float]]


def _marks(steps: int) -> Row:
    with leadline({"bench.yaml": full_boards.text(steps)}) as served:
        times, answers = asyncio.run(_measured(served, steps))
    middle = {way: statistics.median(found) for way, found in times.items()}
    worst = {way: percentile(found, 99) for way, found in times.items()}
    return Row(
        f"A mark while somebody looks ahead without a pause, {steps:,} steps",
        (
            Figure("p50", middle[OUTLOOK], "ms", 8),
            Figure("p99", worst[OUTLOOK], "ms", 25),
            Figure("more than with nobody looking, p50", middle[OUTLOOK] - middle[NOBODY], "ms"),
            Figure("more than with nobody looking, p99", worst[OUTLOOK] - worst[NOBODY], "ms"),
            Figure("while what if is asked, p50", middle[WHAT_IF], "ms"),
            Figure("while what if is asked, p99", worst[WHAT_IF], "ms"),
        ),
        f"nobody looking: p50 {middle[NOBODY]:.1f} ms, p99 {worst[NOBODY]:.1f} ms; in {len(times[OUTLOOK])} marks "
        f"{len(set(answers[OUTLOOK]))} different outlooks, in {len(times[WHAT_IF])} {len(answers[WHAT_IF])} what ifs",
    )


async def _measured(served: Served, steps: int) -> tuple[Times, dict[str, list[bytes]]]:
    """By what the other client asks: milliseconds of each mark, and its answers."""
    times: Times = {NOBODY: [], OUTLOOK: [], WHAT_IF: []}
    answers: dict[str, list[bytes]] = {OUTLOOK: [], WHAT_IF: []}
    async with Line(served.port) as line, Line(served.port) as other:
        for _ in range(RUNS):
            run, ways = await start_run(line), itertools.cycle(times)
            await other.send("GET", OUTLOOK.format(run=run))
            for first in range(0, MARKS, BLOCK):
                way = next(ways)
                async with _asked(other, way.format(run=run), answers.get(way, [])):
                    times[way] += await _block(line, run, step_ids(steps)[first : first + BLOCK])
    return times, answers


@asynccontextmanager
async def _asked(line: Line, path: str, answers: list[bytes]) -> AsyncIterator[None]:
    """Meanwhile the path is asked for again and again, but for NOBODY; what is asked last is waited for."""
    over = asyncio.Event()

    async def ask() -> None:
        while path and not over.is_set():
            answers.append(await line.send("GET", path))

    task = asyncio.create_task(ask())
    try:
        yield
    finally:
        over.set()
        await task


async def _block(line: Line, run: int, steps: list[str]) -> list[float]:
    found = []
    for step in steps:
        await asyncio.sleep(APART_S)
        began = time.perf_counter()
        await line.send("POST", f"/api/runs/{run}/marks", {"step": step, "key": str(uuid.uuid4()), "by": "Bench"})
        found.append((time.perf_counter() - began) * 1000)
    return found


def _lead_board() -> Row:
    """Processor time of the server for one GET of the page while its outlook is fresh or at rest."""
    with leadline() as served:
        sample, sample_ms = asyncio.run(_page(served, "pump-changeout", 0))
    with leadline({"bench.yaml": full_boards.text(200)}) as served:
        full, full_ms = asyncio.run(_page(served, "bench", 200))
    return Row(
        "Lead board, server time, outlook and all",
        (
            Figure("the shipped sample", sample, "ms"),
            Figure("the same by the clock, p50", sample_ms, "ms"),
            Figure("200 steps, half done", full, "ms"),
            Figure("the same by the clock, p50", full_ms, "ms"),
        ),
    )


async def _page(served: Served, procedure: str, steps: int) -> tuple[float, float]:
    """Milliseconds of one page: processor time, and by the clock. The processor time has the ticks in it too."""
    async with Line(served.port) as line:
        run = await start_run(line, procedure=procedure)
        for step in step_ids(steps)[: steps // 2]:
            await line.send("POST", f"/api/runs/{run}/marks", {"step": step})
    path = f"/runs/{run}/lead"
    await pages.page_times(served, path, 5)
    busy_s = served.busy_s()
    times = await pages.page_times(served, path, PAGES)
    return (served.busy_s() - busy_s) * 1000 / (PAGES + pages.UNCOUNTED), statistics.median(times)


ROWS: Measures = {"200": lambda: _marks(200), "1000": lambda: _marks(1000), "board": _lead_board}
