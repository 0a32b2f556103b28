"""Eight hours of running, twenty rehearsals at once: does the server's memory stay where it is?

Each rehearsal's clock goes RATE times as fast as the world's, and simulated people do all its work, so eight hours are
over in four minutes of the world; both are told. Screens of every run are open, and a client goes from run to run and
asks for the Desk, My list and the Lead board with its outlook. Resident memory is sampled meanwhile. The samples of the
first quarter are the warm-up; through the others goes a line by least squares. The log itself stays in memory, so the
line can't be quite flat: the bound leaves room for that and for little else.
"""

import asyncio
import itertools
import statistics
import time
from collections.abc import Sequence
from contextlib import AsyncExitStack
from dataclasses import dataclass, field

from tests.bench import boards
from tests.bench.report import Figure, Measures, Row, spread
from tests.bench.serving import Served, leadline, start_run
from tests.bench.wire import Line, Screens

HOURS = 8.0
RATE = 120
RUNS = 20
SCREENS = 5
"""Of each run."""
STEPS = 260
PEOPLE = 2
"""Two people have work for a little longer than HOURS in so many steps."""
WARM_UP = 0.25
APART_S = 0.5
BOUND_MB = 2.5
"""How much memory may grow in an hour of all the runs together. Our own bound."""
PAGES = ("desk", "list/P0", "lead")


@dataclass(slots=True)
class _Watched:
    """(Elapsed hours, megabytes) of each sample; milliseconds of each page; of each run at the end, how far it is."""

    memory: list[tuple[float, float]] = field(default_factory=list)
    pages: list[float] = field(default_factory=list)
    events: list[int] = field(default_factory=list)
    elapsed_h: list[float] = field(default_factory=list)
    done: list[int] = field(default_factory=list)
    took_s: float = 0.0


def _hours() -> Row:
    with leadline({"bench.yaml": boards.text(STEPS, people=PEOPLE)}) as served:
        found = asyncio.run(_watched(served))
    least_h, events = min(found.elapsed_h), sum(found.events)
    warm = [(hours, megabytes) for hours, megabytes in found.memory if hours >= WARM_UP * HOURS]
    rises = _rise(warm)
    return Row(
        f"{HOURS:g} hours of simulated running, {RUNS} runs, {RUNS * SCREENS} screens",
        (
            Figure("memory, after warm-up, an hour", rises, "MB", BOUND_MB),
            Figure("resident memory at the first sample", found.memory[0][1], "MB"),
            Figure("resident memory at the last", found.memory[-1][1], "MB"),
            Figure("simulated hours of each run", least_h, "h", HOURS, at_least=True),
            Figure("really run", found.took_s, "s"),
            Figure("runs whose people had work to the end", sum(done < STEPS for done in found.done), "", RUNS, True),
            *spread(found.pages, name="a page meanwhile"),
        ),
        f"none; {events:,} events, at {RATE} times the speed; {len(warm)} samples after the first {WARM_UP:.0%}, "
        f"{_an_event(warm, rises, events, least_h):.1f} kB for each event of them",
    )


def _rise(samples: Sequence[tuple[float, float]]) -> float:
    """Megabytes an hour, by least squares."""
    hours, megabytes = zip(*samples, strict=True)
    return statistics.linear_regression(hours, megabytes).slope


def _an_event(warm: Sequence[tuple[float, float]], rises: float, events: int, hours: float) -> float:
    """Kilobytes that memory grew by for each event, as if events came evenly."""
    return rises * (warm[-1][0] - warm[0][0]) * 1024 / (events * (warm[-1][0] - warm[0][0]) / hours)


async def _watched(served: Served) -> _Watched:
    found = _Watched()
    async with AsyncExitStack() as stack:
        line = await stack.enter_async_context(Line(served.port))
        runs = [await _rehearsal(line, seed) for seed in range(RUNS)]
        began = time.perf_counter()
        for run in runs:
            await stack.enter_async_context(Screens(served.port, f"/api/runs/{run}/live", SCREENS))
        for run, page in zip(itertools.cycle(runs), itertools.cycle(PAGES)):
            hours = (time.perf_counter() - began) * RATE / 3600
            if hours > HOURS:
                break
            found.memory.append((hours, served.memory_mb()))
            asked = time.perf_counter()
            await line.send("GET", f"/runs/{run}/{page}")
            found.pages.append((time.perf_counter() - asked) * 1000)
            await asyncio.sleep(APART_S)
        found.took_s = time.perf_counter() - began
        for run in runs:
            state = await line.json("GET", f"/api/runs/{run}")
            found.events.append(state["seq"])
            found.elapsed_h.append(state["at_s"] / 3600)
            found.done.append(sum(step["state"] == "done" for step in state["steps"]))
    return found


async def _rehearsal(line: Line, seed: int) -> int:
    """A run that everybody of it is simulated in; its clock begins at zero."""
    run = await start_run(line, "0:00")
    who = [f"P{person}" for person in range(PEOPLE)]
    for order in ({"do": "players", "who": who, "seed": seed}, {"do": "clock", "rate": RATE}):
        await line.send("POST", f"/api/runs/{run}/orders", order)
    return run


ROWS: Measures = {"": _hours}
