"""The Desk of 200 steps: the server's time, and the browser's until it is painted.

Server time is the processor time that the server's process spends on one GET of the whole page, half of the steps
done: what else a shared machine does is not in it. Beside it the whole request by the clock. The browser's time is
from the start of the navigation to the second frame after `load`.
"""

import asyncio
import shutil
import statistics
import time
from collections.abc import Iterator
from typing import TYPE_CHECKING

from jinja2 import Environment, Template

from tests.bench import boards
from tests.bench.marks import step_ids
from tests.bench.report import Figure, Measures, Row, spread
from tests.bench.serving import Served, folder, leadline, start_run
from tests.bench.timing import median
from tests.bench.wire import HOST, Line

if TYPE_CHECKING:
    from playwright.sync_api import Page

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
FLAGS = "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
FLAGS += "--disable-component-update --disable-sync"
LOADS = 7
PAGES = 100
UNCOUNTED = 5
_TABLE = """<table>{% for row in rows %}<tr class="{{ row.look }}"><td>{{ row.id }}</td><td>{{ row.who }}</td>
<td>{{ row.text }}</td><td>{{ row.start }}</td><td>{{ row.finish }}</td><td>{{ row.state }}</td></tr>
{% endfor %}</table>"""


def _both() -> Iterator[Row]:
    with leadline({"bench.yaml": boards.text(200)}) as served:
        run = asyncio.run(half_done(served, 200))
        yield _server(served, run)
        yield _browser(served, run)


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


def table(count: int = 200) -> float:
    """Milliseconds of the reference: a Jinja2 table of so many rows, escaped."""
    template, made = _template(count)
    return median(lambda: template.render(rows=made), 31)


def _template(count: int) -> tuple[Template, list[dict[str, str]]]:
    names = ("id", "who", "text", "start", "finish", "state", "look")
    made = [{name: f"{name} {number}" for name in names} for number in range(count)]
    return Environment(autoescape=True).from_string(_TABLE), made


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
            *spread(times, name="by the clock"),
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
        found, painted = _loads(page, f"http://{HOST}:{served.port}/runs/{run}/desk")
        with folder() as made:
            template, rows = _template(200)
            (made / "table.html").write_text(f"<!doctype html>{template.render(rows=rows)}")
            bare, _ = _loads(page, (made / "table.html").as_uri())
        browser.close()
    return Row(
        what,
        (
            *spread(found[1:], p50=300, name="second frame after load"),
            Figure("first contentful paint, median", statistics.median(painted[1:]), "ms"),
            Figure("first visit, nothing cached", found[0], "ms"),
        ),
        f"a bare table of 200 rows from a file: {statistics.median(bare[1:]):.0f} ms; {LOADS} loads at 1440 × 900",
    )


def _loads(page: "Page", address: str) -> tuple[list[float], list[float]]:
    """Milliseconds of each load, one more than LOADS: to the second frame, to the first paint."""
    found, painted = list[float](), list[float]()
    for _ in range(LOADS + 1):
        page.goto(address, wait_until="load")
        found.append(float(page.evaluate(_SECOND_FRAME)))
        painted.append(float(page.evaluate(_FIRST_PAINT)))
    return found, painted


_SECOND_FRAME = """() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() =>
done(performance.now()))))"""
_FIRST_PAINT = "() => performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? 0"


ROWS: Measures = {"": _both}
