"""Accounts in a real browser: by keyboard, in two tabs, and with marks that were kept while nobody was signed in."""

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser.looking import AXE, WIDTHS, violations
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


@pytest.mark.parametrize("path", ["/people", "/password"])
def test_the_pages_of_accounts_pass_axe_fit_every_width_and_each_button_says_what_it_sets(
    peopled: Server, station: NewStation, path: str
) -> None:
    there = station(peopled)
    page = there.page
    page.goto(path)
    sign_in(there, "Kofi")
    page.wait_for_url(f"{peopled.address}{path}")
    names = page.get_by_role("main").get_by_role("button").all_inner_texts()
    assert len(set(names)) == len(names), names
    if path == "/people":
        assert {"Set right of Mara", "Set password of Mara", "Disable Mara"} <= {
            " ".join(each.split()) for each in names
        }
    page.evaluate(AXE)
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.scrollingElement.scrollWidth") <= width
        for theme in ("dark", "light"):
            page.evaluate("theme => { document.documentElement.dataset.theme = theme }", theme)
            assert not violations(page)
    widest = max(box["width"] for each in page.locator(".stacked button").all() if (box := each.bounding_box()))
    assert widest < 300, "a button as wide as the page"


def test_a_link_on_another_site_leads_somebody_who_is_signed_in_to_the_page(
    peopled: Server, station: NewStation
) -> None:
    there = station(peopled)
    there.page.goto("/")
    sign_in(there, "Kofi")
    there.page.wait_for_url(f"{peopled.address}/")
    from_wiki(there, "/password")
    expect(there.page.get_by_label("Present password")).to_be_visible()


def test_a_link_on_another_site_leaves_the_tabs_of_an_open_server_as_they_are(
    server: Server, station: NewStation
) -> None:
    there = station(server)
    there.page.goto("/")
    before = there.context.cookies()
    there.page, tab = there.context.new_page(), there.page
    from_wiki(there, "/")
    assert [each["value"] for each in there.context.cookies()] == [each["value"] for each in before]
    name = tab.locator("form[action='/name'] input[name=name]")
    name.fill("Zed")
    with tab.expect_navigation():
        name.press("Enter")
    expect(name).to_have_value("Zed")


def lead_a_rehearsal(there: Station) -> None:
    """Sign in as the keeper, and start the first run."""
    there.page.goto("/")
    sign_in(there, "Kofi")
    there.page.locator("li", has_text="Relay box swap").get_by_role("button", name="Start a rehearsal").click()
    there.page.locator("#link.live").wait_for()


def from_wiki(there: Station, path: str) -> None:
    """Follow a link that stands on a page of another site; nothing is fetched from elsewhere."""
    wiki = "http://wiki.example/"
    link = f"<title>Wiki</title><a href='{there.address}{path}'>To the board</a>"
    there.context.route(wiki, lambda route: route.fulfill(body=link, content_type="text/html"))
    there.page.goto(wiki)
    there.page.get_by_role("link").click()
    there.page.wait_for_url(f"{there.address}{path}")
    there.problems = [each for each in there.problems if wiki not in each]


def test_a_refusal_that_brings_no_part_of_the_page_is_said_in_the_servers_own_words(
    peopled: Server, station: NewStation
) -> None:
    """A page that was open before somebody else signed in still has buttons that are not theirs to press."""
    there = station(peopled)
    lead_a_rehearsal(there)
    there.page.goto("/people")
    there.page.get_by_label("Name, as it signs the log").fill("Wim")
    there.page.get_by_label("Password, 8 to 64 characters").fill(PASSWORD)
    there.page.locator(".stacked select[name=may]").select_option("watch")
    there.page.get_by_role("button", name="Add", exact=True).click()
    expect(there.page.get_by_role("status")).to_have_text("Done. Wim was added, who may watch.")
    other = station(peopled, width=390)
    other.page.goto("/runs/1/desk")
    sign_in(other, "Wim")
    other.page.locator("#link.live").wait_for()
    expect(other.page.locator(".me")).to_have_text("Wim may watch")
    expect(other.page.locator(".me").get_by_text("may watch")).to_be_visible()
    other.page.evaluate(
        """() => {
          const main = document.getElementById("main");
          main.insertAdjacentHTML("beforeend", `<form method="post" action="/runs/1/orders" hx-post="/runs/1/orders"
            hx-target="#main" hx-swap="none"><input name="token" value="${document.body.dataset.token}">
            <button name="do" value="end">End the run</button></form>`);
          htmx.process(main);
        }"""
    )
    other.page.get_by_role("button", name="End the run").click()
    alert = other.page.locator("#notice").get_by_role("alert")
    expect(alert).to_have_text(
        "Not done. That is for those who may mark steps; Wim may look. Ask your keeper if that should be otherwise."
    )
    assert other.page.evaluate("document.scrollingElement.scrollWidth") <= 390
    # Chromium itself reports the answer of 403, which was asked for.
    other.problems = [each for each in other.problems if "status of 403" not in each]


def test_signing_out_in_one_tab_is_said_in_the_other_and_a_press_there_is_kept_until_one_is_back(
    peopled: Server, station: NewStation
) -> None:
    there = station(peopled)
    lead_a_rehearsal(there)
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
