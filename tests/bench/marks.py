"""Marks: how long one takes until it is on disk and answered, and how many a second the server takes.

A mark is a POST to the API of a real `leadline serve` on an empty data folder, over a connection that is kept open,
on a procedure of 200 steps. The elapsed clock of the client is around the whole request.
"""

import asyncio
import itertools
import statistics
import time
import uuid
from pathlib import Path

from tests.bench import boards
from tests.bench.bare import raw
from tests.bench.report import Figure, Measures, Row, spread
from tests.bench.serving import Served, bare, folder, leadline, slow_disk, start_run
from tests.bench.timing import percentile
from tests.bench.wire import Line, Screens

STEPS = 200
STATIONS = 16
SCREENS = 50
RUNS = 5
"""One board of 200 steps is marked in a moment, so several runs are marked one after the other."""
FILES_OF_MANY = {"bench.yaml": boards.text(STEPS, people=STATIONS, crossed=False)}


def step_ids(steps: int) -> list[str]:
    """In an order in which they may be marked."""
    tasks = range(steps // boards.STEPS_PER_TASK)
    return [f"t{task}/{number}" for task in tasks for number in range(1, boards.STEPS_PER_TASK + 1)]


async def mark_all(served: Served, steps: int, runs: int) -> list[float]:
    """Milliseconds of each mark, one after the other. The first ten of the server are not counted."""
    found = []
    async with Line(served.port) as line:
        for _ in range(runs):
            run = await start_run(line)
            for step in step_ids(steps):
                found.append(await _mark(line, run, step))
    return found[10:]


async def _mark(line: Line, run: int, step: str) -> float:
    sent = {"step": step, "key": str(uuid.uuid4()), "by": "Bench", "station": "bench"}
    began = time.perf_counter()
    await line.send("POST", f"/api/runs/{run}/marks", sent)
    return (time.perf_counter() - began) * 1000


def _one_station() -> Row:
    with leadline({"bench.yaml": boards.text(STEPS)}) as served:
        times = asyncio.run(mark_all(served, STEPS, 3))
    commits = raw_commits()
    middle, commit = statistics.median(times), statistics.median(commits)
    return Row(
        "A mark acknowledged, on disk; board of 200 steps, 1 station",
        (
            *spread(times, p50=8, p99=25),
            Figure("p50 in raw commits", middle / commit, "x", 25),
        ),
        f"one raw sqlite3 commit, WAL, FULL: p50 {commit:.2f} ms, p99 {percentile(commits, 99):.2f} ms",
    )


def raw_commits(count: int = 300) -> list[float]:
    """Milliseconds of each of so many single-row commits on the same disk."""
    found = []
    with folder() as made:
        connection = raw(str(made / "raw.sqlite3"))
        for _ in range(count):
            began = time.perf_counter()
            connection.execute("INSERT INTO mark (body) VALUES (?)", ("x" * 300,))
            found.append((time.perf_counter() - began) * 1000)
        connection.close()
    return found


# Many stations


async def _crowd(port: int, path: str, live: str, steps: list[list[str]]) -> tuple[float, list[float]]:
    """(Seconds in all, milliseconds of each mark) of stations that each mark their own list, before so many screens."""

    async def station(line: Line, own: list[str]) -> list[float]:
        found = []
        for step in own:
            sent = {"step": step, "key": str(uuid.uuid4()), "by": "Bench", "station": "bench"}
            began = time.perf_counter()
            await line.send("POST", path, sent)
            found.append((time.perf_counter() - began) * 1000)
        return found

    lines = [await Line(port).__aenter__() for _ in steps]
    async with Screens(port, live, SCREENS):
        began = time.perf_counter()
        each = await asyncio.gather(*(station(line, own) for line, own in zip(lines, steps, strict=True)))
        took = time.perf_counter() - began
    for line in lines:
        await line.__aexit__(None, None, None)
    return took, list(itertools.chain.from_iterable(each))


def _lists() -> list[list[str]]:
    """The steps of each of the 16 people, whose tasks wait for nobody else."""
    tasks = range(STEPS // boards.STEPS_PER_TASK)
    parts = range(1, boards.STEPS_PER_TASK + 1)
    owned = [[task for task in tasks if task % STATIONS == own] for own in range(STATIONS)]
    return [[f"t{task}/{part}" for task in own for part in parts] for own in owned]


async def marks_per_second(served: Served) -> tuple[float, list[float]]:
    """How many a second, and the milliseconds of each."""
    spent, found = 0.0, list[float]()
    for _ in range(RUNS):
        async with Line(served.port) as line:
            run = await start_run(line)
        took, times = await _crowd(served.port, f"/api/runs/{run}/marks", f"/api/runs/{run}/live", _lists())
        spent += took
        found += times
    return len(found) / spent, found


async def _bare_per_second(served: Served) -> float:
    steps = [own * RUNS for own in _lists()]
    took, times = await _crowd(served.port, "/mark", "/live", steps)
    return len(times) / took


def _many_stations() -> Row:
    with leadline(FILES_OF_MANY) as served:
        rate, times = asyncio.run(marks_per_second(served))
    with bare() as served:
        reference = asyncio.run(_bare_per_second(served))
    with folder() as made:
        slow = _slow_rate(slow_disk(made))
    figures = [Figure("marks", rate, "a second", 500, at_least=True), *spread(times, p99=60)]
    figures += [Figure("marks, 5 ms more per fsync", slow, "a second", 300, at_least=True)] if slow else []
    said = "" if slow else "; the slow disk was left out: no C compiler or no LD_PRELOAD here"
    return Row(
        f"Marks per second; {STATIONS} stations, {SCREENS} screens, board of 200 steps",
        tuple(figures),
        f"a bare server with group commit and the same screens: {reference:,.0f} a second{said}",
    )


def _slow_rate(library: Path | None) -> float | None:
    if library is None:
        return None
    with leadline(FILES_OF_MANY, preload=library) as served:
        return asyncio.run(marks_per_second(served))[0]


ROWS: Measures = {"one": _one_station, "many": _many_stations}
