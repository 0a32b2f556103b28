"""A page that has lost its server names the others of the same database, and says what becomes of what is kept here."""

import signal
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser.kept import counts, has_cards, until
from tests.browser.server import Server
from tests.browser.station import NewStation

pytestmark = pytest.mark.browser

LOST_MS = 8_000


@pytest.fixture
def other_named(tmp_path: Path, server: Server, monkeypatch: pytest.MonkeyPatch) -> Iterator[Server]:
    """A server that names the common one as another of its database: here only its address matters."""
    monkeypatch.setenv("LEADLINE_ALSO_AT", f"{server.address}/ http://board-2.larkspur.example:8765")
    with Server(tmp_path) as started:
        yield started


def test_a_lost_link_names_the_other_addresses_and_a_press_stays_until_this_one_is_back(
    other_named: Server, server: Server, station: NewStation
) -> None:
    run = other_named.run("relay", "0:30:00")
    there = station(other_named)
    page = there.open(f"/runs/{run}/desk")
    has_cards(page)
    link = page.locator("#link")
    expect(link).to_contain_text("Live")
    expect(link.get_by_role("link")).to_have_count(0)
    there.server_down = True
    other_named.stop(signal.SIGKILL)
    expect(link).to_contain_text("Also at", timeout=LOST_MS)
    elsewhere = link.get_by_role("link", name=server.address)
    expect(elsewhere).to_have_attribute("href", f"{server.address}/runs/{run}/desk")
    expect(link.get_by_role("link")).to_have_count(2)

    there.band("ANA").locator("[data-done]:visible").click()
    counts(page, 1)
    page.locator("#kept button").click()
    expect(page.locator("#outbox")).to_contain_text("They belong to this address")
    other_named.start()
    until(lambda: len(other_named.marked(run)) == 1, page, 20)
    expect(link.get_by_role("link")).to_have_count(0, timeout=LOST_MS)
