"""From a mark at one server to a screen of another on the same PostgreSQL database: the word goes by LISTEN and NOTIFY.

Both are real servers on a database with fsync, all on this machine. The clock runs from before the mark is sent until
the stream of the other server has the word `changed` of it. A screen at the server of the mark is measured beside it.
"""

import asyncio
import time
import uuid
from collections.abc import Sequence
from pathlib import Path

from tests import postgres
from tests.bench import boards
from tests.bench.marks import step_ids
from tests.bench.report import Measures, Row, spread
from tests.bench.serving import folder, start_run
from tests.bench.wire import Line, Screens
from tests.harm.neighbours import pair

STEPS = 200
RUNS = 2
APART_S = 0.02
BUDGET_MS = 40
"""The p99 that a screen of the same server is promised among 200 of them."""


def measured(screens: int = 1) -> tuple[list[float], list[float], list[float]]:
    """Milliseconds of each mark until it was acknowledged, at the screens of its server, at those of the other one."""
    cluster = postgres.Cluster()
    try:
        with folder() as made:
            return asyncio.run(_measured(made, cluster.new_database(), screens))
    finally:
        cluster.close()


async def _measured(made: Path, url: str, screens: int) -> tuple[list[float], list[float], list[float]]:
    found: list[tuple[float, float, float]] = []
    with pair(made, url, {"bench": boards.text(STEPS)}) as (here, there):
        async with Line(here.port) as line:
            for _ in range(RUNS):
                run = await start_run(line)
                live = f"/api/runs/{run}/live"
                async with Screens(here.port, live, screens) as near, Screens(there.port, live, screens) as far:
                    for step in step_ids(STEPS):
                        await asyncio.sleep(APART_S)
                        found.append(await _mark(line, f"/api/runs/{run}/marks", step, (near, far)))
    acknowledged, near_ms, far_ms = zip(*found[10:], strict=True)
    return list(acknowledged), list(near_ms), list(far_ms)


async def _mark(line: Line, path: str, step: str, watching: Sequence[Screens]) -> tuple[float, float, float]:
    began = time.perf_counter()
    answer = await line.json("POST", path, {"step": step, "key": str(uuid.uuid4())})
    answered = time.perf_counter()
    near, far = [await each.last(answer["seq"]) for each in watching]
    return (answered - began) * 1000, (near - began) * 1000, (far - began) * 1000


def _row() -> Row:
    what = "Mark at one server to a screen of the other, one PostgreSQL"
    if why := postgres.why_not():
        return Row(what, missing=f"PostgreSQL was not measured: {why}")
    acknowledged, near, far = measured()
    return Row(
        what,
        (
            *spread(far, p99=BUDGET_MS),
            *spread(near, name="at its own server"),
            *spread(acknowledged, name="acknowledged"),
        ),
        f"{len(far)} marks, one at a time, on this machine's disk",
    )


ROWS: Measures = {"": _row}
