"""Text from a procedure, a note or a name is text: it runs nothing, asks for nothing and makes no element."""

import pytest
from playwright.sync_api import Page, expect

from tests.browser.server import Server
from tests.browser.station import AT_ONCE_MS, NewStation, Station

pytestmark = pytest.mark.browser

NOTE = "<img src=x onerror='window.ran = 20'><script>window.ran = 21</script>{{ 7777 * 7777 }}"
FOREIGN = (
    "main :is(script, iframe, img, object, base, style, meta, a[href^=javascript], [onerror], [onload], [onfocus])"
)
"""What our own pages never have inside their content."""


def _is_harmless(page: Page) -> None:
    assert page.evaluate("window.ran") is None, "text from a procedure was run"
    assert page.locator(FOREIGN).count() == 0
    assert str(7777 * 7777) not in page.locator("body").inner_text()


@pytest.fixture
def hostile(server: Server, station: NewStation) -> tuple[int, Station]:
    return server.run("hostile", "0:03:00"), station()


@pytest.mark.parametrize("page", ["desk", "lead", "list/ANA", "list/BEN", "log", "plan", "desk?at=0:01:00"])
def test_markup_in_a_procedure_is_shown_as_text(hostile: tuple[int, Station], server: Server, page: str) -> None:
    run, there = hostile
    server.order(run, "note", reason=NOTE)
    shown = there.open(f"/runs/{run}/{page}", live="?" not in page)
    expect(shown.locator("h1")).to_contain_text("<script>window.ran = 1</script> & <b>bold</b>")
    _is_harmless(shown)


def test_markup_is_text_on_the_pages_outside_a_run(hostile: tuple[int, Station], server: Server) -> None:
    run, there = hostile
    revision = server.ask(f"/runs/{run}")["revision"]
    for path in ("/", f"/procedures/{revision}", "/runs/%3Cscript%3Ewindow.ran=1%3C/script%3E"):
        _is_harmless(there.open(path, live=False))


def test_markup_stays_text_in_what_is_swapped_in_live(hostile: tuple[int, Station], server: Server) -> None:
    run, there = hostile
    there.open("/", live=False)
    there.page.get_by_label("Signs the log as").fill("<img src=x onerror='window.ran = 30'>")
    there.page.get_by_role("button", name="Keep").click()
    page = there.open(f"/runs/{run}/desk")
    there.done("BEN").click()
    expect(page.get_by_role("alert")).to_contain_text("<base href=//elsewhere.example/>")
    there.reads("ANA", "ANA")
    there.band("ANA").locator("[data-value]").first.fill("1")
    there.done("ANA").click()
    expect(there.band("ANA").locator(".now .text")).to_have_text(
        "</template></hx-partial><script>window.ran = 12</script>"
    )
    server.order(run, "no-go", step="two/1", person="ANA", reason=NOTE)
    expect(there.band("BEN")).to_contain_text("window.ran = 21", timeout=AT_ONCE_MS)
    _is_harmless(page)
    _is_harmless(there.open(f"/runs/{run}/log"))
    assert not [url for url in there.asked if url.endswith("/api/runs") or "elsewhere" in url]
