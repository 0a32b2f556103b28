"""The live link and the session: who is back, in whatever tab, is live and may press in the pages that stayed open."""

import pytest
from playwright.sync_api import expect

from tests.browser.server import Server
from tests.browser.station import NewStation, Station
from tests.browser.test_sign_in import lead_a_rehearsal, peopled, sign_in  # noqa: F401 - a fixture is used by its name

pytestmark = pytest.mark.browser


def _refused_meanwhile(there: Station) -> None:
    """Chromium itself reports each request that was refused while nobody was signed in: no fault of the page."""
    there.problems = [each for each in there.problems if "status of 401" not in each]


def test_who_signs_in_again_in_another_tab_goes_on_in_the_first_without_loading_it_anew(
    peopled: Server,  # noqa: F811 - the fixture
    station: NewStation,
) -> None:
    there = station(peopled)
    lead_a_rehearsal(there)
    there.reads("ANA", "ANA", "BEN")
    there.page.evaluate("window.notLoadedAnew = true")
    before = there.page.evaluate("leadline.token()")
    kept, other = there.page, there.tab("/")
    other.get_by_role("button", name="Sign out").click()
    expect(kept.locator("#link")).to_contain_text("Signed out: sign in again. Figures as of 00:00:", timeout=10_000)
    there.page = other
    sign_in(there, "Kofi")
    other.wait_for_url(lambda address: "sign-in" not in address)
    there.page = kept
    expect(kept.locator("#link")).to_have_text("● Live", timeout=10_000)
    expect(kept.locator("body")).not_to_have_attribute("data-token", before)
    there.done("ANA").click()
    expect(there.band("ANA").locator("[data-undo]")).to_contain_text("Open the door")
    assert kept.evaluate("window.notLoadedAnew") is True
    _refused_meanwhile(there)


def test_an_account_that_is_disabled_loses_its_stream_at_once(
    peopled: Server,  # noqa: F811 - the fixture
    station: NewStation,
) -> None:
    keeper, helper = station(peopled), station(peopled)
    for there, name in ((keeper, "Kofi"), (helper, "Mara")):
        there.page.goto("/")
        sign_in(there, name)
        there.page.wait_for_url("**/")
        there.page.locator("#link.live").wait_for()
    keeper.page.goto("/people")
    keeper.page.locator("tr", has_text="Mara").get_by_role("button", name="Disable").click()
    expect(helper.page.locator("#link")).to_contain_text("Signed out: sign in again", timeout=10_000)
    _refused_meanwhile(helper)
