"""What is kept goes under the name of who pressed, and waits for a sign-in rather than be lost."""

import re
import subprocess
import sys

import pytest
from playwright.sync_api import Page, expect

from tests.browser.kept import SENT_MS, counts, has_cards, rows
from tests.browser.server import ROOT, Server
from tests.browser.station import NewStation, Station

pytestmark = pytest.mark.browser

PEOPLE = {"Mara": "mark", "Lena": "lead", "Kofi": "keep"}
PASSWORD = "four grey herons"


def _done(there: Station, *designators: str) -> None:
    for designator in designators:
        there.band(designator).locator("button:visible").get_by_text("Done", exact=True).click()
        there.next_press()


@pytest.fixture
def with_people(own_server: Server) -> Server:
    """A server with accounts, on which one run goes on."""
    run = own_server.run("relay", "0:12:00")
    assert run == 1
    own_server.stop()
    for name, may in reversed(PEOPLE.items()):
        words = [sys.executable, "-m", "app.cli", "person", "add", name, "--may", may, "--data", str(own_server.data)]
        subprocess.run(words, cwd=ROOT, input=f"{PASSWORD}\n", text=True, check=True, capture_output=True)
    own_server.start()
    return own_server


def _sign_in(page: Page, name: str) -> None:
    page.get_by_label("Name").fill(name)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()


def _at_desk_of(there: Station, name: str) -> Page:
    there.page.goto("/sign-in?next=/runs/1/desk")
    _sign_in(there.page, name)
    there.page.locator("#link.live").wait_for()
    has_cards(there.page)
    return there.page


def _log(there: Station) -> list[tuple[str, str]]:
    """Step and name of each mark, as whoever is signed in sees them."""
    events = there.page.evaluate("fetch('/api/runs/1/events').then((answer) => answer.json())")
    return [(each["body"]["step"], each["by"]) for each in events if each["kind"] == "StepMarked"]


def _no_session(there: Station) -> None:
    """As after twenty-four hours."""
    there.context.clear_cookies(name=re.compile("leadline_session_"))


def _forgive(there: Station) -> None:
    there.problems = [each for each in there.problems if "status of 401" not in each and "status of 403" not in each]


def test_when_the_session_has_ended_nothing_is_lost_and_a_sign_in_sends_it(
    with_people: Server, station: NewStation
) -> None:
    there = station(with_people)
    page = _at_desk_of(there, "Mara")
    _no_session(there)
    _done(there, "ANA")
    expect(page.get_by_role("link", name="Sign in to send it")).to_be_visible(timeout=SENT_MS)
    expect(page.locator("#outbox")).to_contain_text("Nothing of it is lost")
    _done(there, "ANA")
    counts(page, 2)
    asked: list[str] = []
    page.on("dialog", lambda dialog: asked.append(dialog.type))
    page.get_by_role("link", name="Sign in to send the 2 kept marks").click()
    _sign_in(page, "Mara")
    page.wait_for_url("**/runs/1/desk")
    counts(page, 0)
    assert _log(there) == [("out/1", "Mara"), ("out/2", "Mara")]
    assert asked == []
    _forgive(there)


def test_a_sign_in_in_another_tab_is_enough(with_people: Server, station: NewStation) -> None:
    there = station(with_people)
    page = _at_desk_of(there, "Mara")
    _no_session(there)
    _done(there, "ANA")
    expect(page.get_by_role("link", name="Sign in to send it")).to_be_visible(timeout=SENT_MS)
    other = there.context.new_page()
    other.goto("/sign-in")
    _sign_in(other, "Mara")
    other.wait_for_url("**/")
    other.close()
    counts(page, 0)
    assert _log(there) == [("out/1", "Mara")]
    expect(there.band("ANA").locator(".now > .marking .text")).to_have_text("Walk to the box", timeout=SENT_MS)
    there.next_press()
    _done(there, "ANA")
    expect(there.band("ANA").locator(".now > .marking .text")).to_have_text("Stop. Is the box free")
    _forgive(there)


def test_what_one_person_kept_goes_under_anothers_name_only_when_that_one_says_so(
    with_people: Server, station: NewStation
) -> None:
    there = station(with_people)
    page = _at_desk_of(there, "Mara")
    _no_session(there)
    _done(there, "ANA")
    page.get_by_role("link", name="Sign in to send it").click(timeout=SENT_MS)
    _sign_in(page, "Lena")
    page.wait_for_url("**/runs/1/desk")
    expect(rows(page)).to_contain_text("Kept by Mara", timeout=SENT_MS)
    page.wait_for_timeout(3_000)
    assert _log(there) == []
    page.get_by_role("button", name="Send it as Lena").click()
    counts(page, 0)
    assert _log(there) == [("out/1", "Lena")]
    _forgive(there)


def test_what_a_person_may_not_is_put_before_them(with_people: Server, station: NewStation) -> None:
    there = station(with_people)
    page = _at_desk_of(there, "Mara")
    page.evaluate("leadline.isLost = () => true")
    page.evaluate(
        """() => { const form = document.querySelector('section.band .more');
        const button = Object.assign(document.createElement('button'), { name: 'do', value: 'not-needed' });
        form.append(button);
        form.closest('details').open = true;
        form.elements.reason.value = 'rain';
        button.click(); }"""
    )
    counts(page, 0, 1)
    expect(rows(page)).to_contain_text("That is for those who may decide")
    _forgive(there)


def test_a_press_is_kept_under_who_is_shown_after_another_person_signed_in_in_another_tab(
    with_people: Server, station: NewStation
) -> None:
    there = station(with_people)
    page = _at_desk_of(there, "Mara")
    page.evaluate("window.notLoadedAnew = true")
    other = there.tab("/")
    other.get_by_role("button", name="Sign out").click()
    _sign_in(other, "Lena")
    other.wait_for_url("**/")
    expect(page.locator(".bar .me a")).to_have_text("Lena", timeout=SENT_MS)
    expect(page.locator("body")).to_have_attribute("data-me", "Lena")
    there.context.route("**/orders", lambda route: route.abort())
    there.context.route("**/api/me", lambda route: route.abort())
    there.server_down = True
    _done(there, "ANA")
    counts(page, 1)
    there.context.unroute_all()
    counts(page, 0)
    assert _log(there) == [("out/1", "Lena")]
    expect(there.band("ANA").locator(".now > .marking .text")).to_have_text("Walk to the box", timeout=SENT_MS)
    there.next_press()
    _done(there, "ANA")  # Its token is hers, too.
    expect(there.band("ANA").locator(".now > .marking .text")).to_have_text("Stop. Is the box free")
    assert page.evaluate("window.notLoadedAnew") is True
    _forgive(there)
