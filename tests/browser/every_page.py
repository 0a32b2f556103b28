"""Every page of the tool, as the demo shows it: each address of the table of rights that answers with a page.

A page that is added later is among them by itself: its address must have its row in that table, and one whose parts
nobody knows how to fill in here is an error. No test of its own.
"""

import re
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from playwright.sync_api import Page

from app.web.access import ADDRESSES
from tests.browser.server import Server

FINISHED = (2, 3, 4, 5, 6)
"""The demo's finished rehearsals, a moment after it has begun."""
NO_PAGES = ("/static/", "/api/")
"""Files and data, but for the one page under /api."""
PARTS = ("/runs/{run}/spare", "/procedures/{revision}/plan.ics")
"""What the script fetches to put into a page (it is looked at there, `test_outbox_looks`); and what is no page
and wants a time."""
SLOW_MS = 20_000
"""Until a page stands: it is not its speed that is looked at here."""
MOMENT = "?at=1:10:00"
FAULTY = "procedure: first\ntitle: First\ntasks:\n  - task: a\n    steps:\n      - {do: x, takes: 6}\n"


@dataclass(frozen=True, slots=True)
class Seen:
    """A page: its name, its address, whether it has a stream, and what is done on it before it is looked at."""

    name: str
    path: str
    live: bool = False
    act: Callable[[Page], None] = lambda _: None


def every_page(demo: Server) -> list[Seen]:
    """All of them, and some that are pages only after something was done."""
    wait_for_finished(demo)
    found: dict[str, Seen] = {}
    for path in _addresses(demo):
        final = _page_at(demo.address, path)
        if final and final not in found:
            found[final] = Seen(_name(final), final, _is_live(final))
    return [*found.values(), *_more(demo)]


def wait_for_finished(demo: Server) -> None:
    for _ in range(600):
        runs = {run["run"]: run for run in demo.ask("/runs")}
        if set(FINISHED) <= set(runs) and all(runs[run].get("ended_s") is not None for run in FINISHED):
            return
        time.sleep(0.1)
    raise AssertionError("the demo's finished rehearsals did not come")


def _addresses(demo: Server) -> Iterator[str]:
    revision = demo.ask("/runs/1")["revision"]
    for addresses in ADDRESSES.values():
        for path, methods in addresses.items():
            shown = path == "/api/docs" or not path.startswith(NO_PAGES)
            if "GET" in methods.split() and shown and path not in PARTS:
                yield from _filled(path, demo.address, revision)


def _filled(path: str, address: str, revision: str) -> Iterator[str]:
    """The address with each of its parts filled in. Raises AssertionError for a part that is not known."""
    if path == "/runs/{run}/{page:path}":
        yield from sorted(set(_links(address, "/runs/1/desk", "/runs/1/")))
    elif path == "/help/{page}":
        yield from sorted(set(_links(address, "/help", "/help/")))
    elif path == "/compare":
        yield "/compare?" + "&".join(f"run={run}" for run in FINISHED)
    elif path == "/runs/{run}/debrief":
        yield from (f"/runs/{run}/debrief" for run in (1, FINISHED[0]))
    else:
        said = path.replace("{run}", "1").replace("{revision}", revision)
        said = said.replace("{person}", "EV1").replace("{kind}", "csv")
        assert "{" not in said, f"say in every_page.py what {path} is filled in with"
        yield said


def _links(address: str, page: str, begin: str) -> list[str]:
    with urllib.request.urlopen(address + page, timeout=20) as answer:
        text = answer.read().decode()
    return [each for each in re.findall(r'href="([^"?#]*)', text) if each.startswith(begin)]


def _page_at(address: str, path: str) -> str:
    """Where it leads, if that is a page; else nothing. Raises HTTPError where it is filled in wrongly."""
    with urllib.request.urlopen(address + path, timeout=20) as answer:
        is_page = str(answer.headers["content-type"]).startswith("text/html")
        is_page = is_page and "attachment" not in str(answer.headers["content-disposition"])
        return str(answer.url).removeprefix(address) if is_page else ""


def _is_live(path: str) -> bool:
    return bool(re.fullmatch(r"/runs/1/(?:desk|lead|list/\w+|log|handover|trainer|plan)", path))


def _name(path: str) -> str:
    short = re.sub(r"[0-9a-f]{64}", "REVISION", path)
    return re.sub(r"[^A-Za-z0-9]+", "-", short).strip("-") or "home"


def _more(demo: Server) -> Iterator[Seen]:
    revision = demo.ask("/runs/1")["revision"]
    for page in ("desk", "lead", "list/EV2", "handover"):
        yield Seen(_name(f"/runs/1/{page}-then"), f"/runs/1/{page}{MOMENT}")
    yield Seen("runs-1-list-ARM-holds", "/runs/1/list/ARM", live=True)
    yield Seen("nothing-there", "/runs/99/desk")
    yield Seen("home-file-refused", "/", act=_send_faulty)
    yield Seen("durations-review", f"/procedures/{revision}/durations?kind=both&simulated=1", act=_review)
    yield Seen("keys", "/runs/1/desk", live=True, act=lambda page: page.keyboard.press("?"))


def _send_faulty(page: Page) -> None:
    page.locator("#add summary").click()
    page.locator("#add textarea").fill(FAULTY)
    page.get_by_role("button", name="Check and add").click()
    page.locator(".faults .shown").first.wait_for()


def _review(page: Page) -> None:
    page.get_by_role("button", name="Show the difference").click()
    page.locator(".diff").first.wait_for()


def opened(page: Page, seen: Seen) -> None:
    """Go there, wait until it stands, and do what is done there."""
    page.goto(seen.path, timeout=SLOW_MS)
    if seen.live:
        page.locator("#link.live").wait_for(timeout=SLOW_MS)
    if seen.path == "/api/docs":
        page.locator("#swagger-ui .opblock").first.wait_for(timeout=SLOW_MS)
    seen.act(page)
