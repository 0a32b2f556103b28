"""The Desk of 200 steps: the server's time, and the browser's until it is painted.

Server time is the processor time that the server's process spends on one GET of the whole page, half of the steps
done: what else a shared machine does is not in it. Beside it the whole request by the clock. The browser's time is
from the start of the navigation to the second frame after `load`.
"""

import asyncio
import shutil
import statistics
import time

from jinja2 import Environment

from tests.bench import boards
from tests.bench.marks import step_ids
from tests.bench.report import Figure, Row
from tests.bench.serving import Served, leadline, start_run
from tests.bench.timing import median, percentile
from tests.bench.wire import HOST, Line

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
FLAGS = "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
FLAGS += "--disable-component-update --disable-sync"
LOADS = 7
PAGES = 100
UNCOUNTED = 5
_TABLE = """<table>{% for row in rows %}<tr class="{{ row.look }}"><td>{{ row.id }}</td><td>{{ row.who }}</td>
<td>{{ row.text }}</td><td>{{ row.start }}</td><td>{{ row.finish }}</td><td>{{ row.state }}</td></tr>
{% endfor %}</table>"""


def rows() -> list[Row]:
    with leadline({"bench.yaml": boards.text(200)}) as served:
        run = asyncio.run(half_done(served, 200))
        return [_server(served, run), _browser(served, run)]


async def half_done(served: Served, steps: int) -> int:
    """A run of which the first half of the steps are marked."""
    async with Line(served.port) as line:
        run = await start_run(line)
        for step in step_ids(steps)[: steps // 2]:
            await line.send("POST", f"/api/runs/{run}/marks", {"step": step})
        return run


async def page_times(served: Served, path: str, times: int) -> list[float]:
    """Milliseconds of each of so many whole pages, after some that are not counted."""
    found = []
    async with Line(served.port) as line:
        for _ in range(times + UNCOUNTED):
            began = time.perf_counter()
            await line.send("GET", path)
            found.append((time.perf_counter() - began) * 1000)
    return found[UNCOUNTED:]


def table() -> float:
    """Milliseconds of the reference: a Jinja2 table of 200 rows, escaped."""
    names = ("id", "who", "text", "start", "finish", "state", "look")
    made = [{name: f"{name} {number}" for name in names} for number in range(200)]
    template = Environment(autoescape=True).from_string(_TABLE)
    return median(lambda: template.render(rows=made), 31)


def _server(served: Served, run: int) -> Row:
    path = f"/runs/{run}/desk"
    asyncio.run(page_times(served, path, 20))
    busy_s = served.busy_s()
    times = asyncio.run(page_times(served, path, PAGES - UNCOUNTED))
    spent = (served.busy_s() - busy_s) * 1000 / PAGES
    return Row(
        "Desk of 200 steps, server time",
        (
            Figure("processor time", spent, "ms", 8),
            Figure("by the clock, p50", statistics.median(times), "ms"),
            Figure("by the clock, p99", percentile(times, 99), "ms"),
        ),
        f"a Jinja2 table of 200 rows: {table():.2f} ms",
    )


def _browser(served: Served, run: int) -> Row:
    what = "Desk of 200 steps, in the browser until painted"
    path = next((program for name in BROWSERS if (program := shutil.which(name))), None)
    if path is None:
        return Row(what, missing="left out: no Chromium on the PATH")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        return Row(what, missing="left out: playwright is not installed")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=FLAGS.split())
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        painted, found = list[float](), list[float]()
        for _ in range(LOADS + 1):
            page.goto(f"http://{HOST}:{served.port}/runs/{run}/desk", wait_until="load")
            found.append(float(page.evaluate(_SECOND_FRAME)))
            painted.append(float(page.evaluate(_FIRST_PAINT)))
        browser.close()
    return Row(
        what,
        (
            Figure("second frame after load, median", statistics.median(found[1:]), "ms", 300),
            Figure("first contentful paint, median", statistics.median(painted[1:]), "ms"),
            Figure("first visit, nothing cached", found[0], "ms"),
        ),
        f"none; {LOADS} loads at 1440 × 900",
    )


_SECOND_FRAME = """() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() =>
done(performance.now()))))"""
_FIRST_PAINT = "() => performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? 0"
