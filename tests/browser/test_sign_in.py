"""Accounts in a real browser: by keyboard, in two tabs, and with marks that were kept while nobody was signed in."""

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser.server import ROOT, Server
from tests.browser.station import NewStation, Station

pytestmark = pytest.mark.browser

PASSWORD = "four grey herons"


@pytest.fixture
def peopled(tmp_path: Path) -> Iterator[Server]:
    """A server with Kofi, who may keep, and Mara, who may mark."""
    server = Server(tmp_path)
    for name, may in (("Kofi", "keep"), ("Mara", "mark")):
        words = [sys.executable, "-m", "app.cli", "person", "add", name, "--may", may, "--data", str(tmp_path / "data")]
        subprocess.run(words, cwd=ROOT, input=f"{PASSWORD}\n", text=True, check=True, capture_output=True)
    with server:
        yield server


def sign_in(there: Station, name: str) -> None:
    """By keyboard, from wherever the server led to; the name has the focus unless it is known."""
    page = there.page
    expect(page.get_by_label("Name", exact=True)).to_be_focused()
    page.keyboard.type(name)
    page.keyboard.press("Tab")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")


def test_one_signs_in_by_keyboard_starts_a_run_and_the_log_has_ones_name(peopled: Server, station: NewStation) -> None:
    lead = station(peopled)
    lead.page.goto("/")
    sign_in(lead, "Kofi")
    lead.page.locator("li", has_text="Relay box swap").get_by_role("button", name="Start a rehearsal").click()
    lead.page.wait_for_url("**/runs/1/desk")
    desk = station(peopled)
    desk.page.goto("/runs/1/desk")
    sign_in(desk, "Mara")
    desk.page.locator("#link.live").wait_for()
    expect(desk.page.get_by_text("End the run")).to_have_count(0)
    desk.reads("ANA", "ANA", "BEN")
    desk.done("ANA").click()
    expect(lead.band("ANA")).to_contain_text("Walk to the box")
    desk.page.goto("/runs/1/log")
    expect(desk.page.locator("main")).to_contain_text("Mara")


def test_signing_out_in_one_tab_is_said_in_the_other_and_a_press_there_is_kept_until_one_is_back(
    peopled: Server, station: NewStation
) -> None:
    there = station(peopled)
    there.page.goto("/")
    sign_in(there, "Kofi")
    there.page.locator("li", has_text="Relay box swap").get_by_role("button", name="Start a rehearsal").click()
    there.page.locator("#link.live").wait_for()
    there.reads("ANA", "ANA", "BEN")
    other = there.tab("/runs/1/desk")
    other.get_by_role("button", name="Sign out").click()
    other.wait_for_url("**/sign-in")
    expect(there.page.locator("#link")).to_contain_text("Signed out", timeout=10_000)
    there.done("ANA").click()
    expect(there.page.locator("#kept")).to_contain_text("kept here, 1 waiting")
    expect(there.page.locator("#outbox")).to_contain_text("Sign in to send it")
    there.page.locator("#outbox").get_by_role("link", name="Sign in to send it").click()
    sign_in(there, "Kofi")
    there.page.wait_for_url("**/runs/1/desk")
    expect(there.page.locator("#kept")).to_be_hidden(timeout=10_000)
    expect(there.band("ANA")).to_contain_text("Walk to the box")
    there.page.goto("/runs/1/log")
    expect(there.page.locator("main").get_by_text("Open the door")).not_to_have_count(0)
    # Chromium itself reports each answer of 401; these were asked for.
    there.problems = [each for each in there.problems if "status of 401" not in each]
