"""From a mark to the last of many screens: each is an open stream of a real server, all read by the bench.

The clock runs from before the mark is sent to the moment at which the last stream has read the word `changed` of
that mark. What a page then fetches is not in it. Marks are sent one at a time, a little apart.
"""

import asyncio
import statistics
import time
import uuid
from collections.abc import AsyncIterator, Iterable

from tests.bench import boards
from tests.bench.marks import step_ids
from tests.bench.report import Measures, Row, spread
from tests.bench.serving import Served, bare, leadline, start_run
from tests.bench.timing import percentile
from tests.bench.wire import Line, Screens

MARKS = 100
APART_S = 0.02


def _row(screens: int, budget_ms: float) -> Row:
    with leadline({"bench.yaml": boards.text(200)}) as served:
        ours = asyncio.run(_leadline(served, screens))
    with bare() as served:
        theirs = asyncio.run(_bare(served, screens))
    return Row(
        f"Mark to the last of {screens:,} screens",
        spread(ours, p99=budget_ms),
        f"a bare StreamingResponse of one payload, nothing stored: p50 {statistics.median(theirs):.1f} ms, "
        f"p99 {percentile(theirs, 99):.1f} ms",
    )


async def _leadline(served: Served, screens: int) -> list[float]:
    async with Line(served.port) as line:
        run = await start_run(line)
        async with Screens(served.port, f"/api/runs/{run}/live", screens) as watching:
            requests = (
                (f"/api/runs/{run}/marks", {"step": step, "key": str(uuid.uuid4())}) for step in step_ids(200)[:MARKS]
            )
            return [each async for each in _times(line, watching, requests)]


async def _bare(served: Served, screens: int) -> list[float]:
    async with Line(served.port) as line, Screens(served.port, "/live", screens) as watching:
        requests: list[tuple[str, object]] = [("/tell", {})] * MARKS
        return [each async for each in _times(line, watching, requests)]


async def _times(line: Line, watching: Screens, requests: Iterable[tuple[str, object]]) -> AsyncIterator[float]:
    for path, body in requests:
        await asyncio.sleep(APART_S)
        began = time.perf_counter()
        answer = await line.json("POST", path, body)
        yield (await watching.last(answer["seq"]) - began) * 1000


ROWS: Measures = {"200": lambda: _row(200, 40), "1000": lambda: _row(1000, 150)}
