"""What a station has kept, as its page shows it, and waiting for it. It parts no station from its server."""

import re
import time
from collections.abc import Callable
from typing import Any

from playwright.sync_api import Locator, Page, expect

from tests.browser.server import Server
from tests.browser.station import Station

LOST_MS = 8_000
"""A link is lost after three silent seconds; a slow machine gets the rest."""

SENT_MS = 20_000
"""The station tries every two seconds, and the stream of its page comes back within a few."""


def until(claim: Callable[[], bool], page: Page, within_s: float = 20) -> None:
    """Wait until it holds, and let the page's own events come in. Raises AssertionError if it does not in that time."""
    end = time.monotonic() + within_s
    while not claim():
        assert time.monotonic() < end, "it did not come true in time"
        page.wait_for_timeout(50)


def summary(page: Page) -> Locator:
    """The words in the bar."""
    return page.locator("#kept")


def rows(page: Page) -> Locator:
    """What is kept, in order, in the panel."""
    return page.locator("#outbox li")


def row(page: Page, words: str) -> Locator:
    return rows(page).filter(has_text=words)


def card(there: Station, designator: str) -> Locator:
    """The card with which a band goes on."""
    return there.band(designator).locator(".spare")


def is_lost(page: Page) -> None:
    """Wait until the page says that its link is lost."""
    expect(page.locator("#link")).to_contain_text(re.compile("not connected", re.IGNORECASE), timeout=LOST_MS)


def has_cards(page: Page) -> None:
    """Wait until the page has fetched the cards with which it would go on without a server, all up to date."""
    page.wait_for_function("() => window.leadline.spare?.seq?.() === window.leadline.seq()", timeout=SENT_MS)


def counts(page: Page, waiting: int, refused: int = 0) -> None:
    """Wait until the bar says that so many wait and were refused; nothing where there are none."""
    said = [f"{waiting} waiting"] * bool(waiting) + [f"{refused} refused"] * bool(refused)
    if said:
        expect(summary(page)).to_have_text(f"kept here, {', '.join(said)}", timeout=SENT_MS)
    else:
        expect(summary(page)).to_be_hidden(timeout=SENT_MS)
        expect(rows(page)).to_have_count(0)


def elapsed_s(page: Page) -> int:
    """By the page's own clock."""
    return int(page.evaluate("Math.floor(leadline.elapsedMs() / 1000)"))


def did(server: Server, run: int, since: int = 0) -> list[dict[str, Any]]:
    """The events of a run after `since`."""
    return [each for each in server.events(run) if each["seq"] > since]


def told(events: list[dict[str, Any]]) -> list[tuple[str, str]]:
    """Kind and step of each event."""
    return [(each["kind"], str(each["body"].get("step"))) for each in events]
