"""The debrief and the comparison in Chromium: they fit, pass axe, print, and the file opens with no server."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.looking import looked_through, too_wide
from tests.browser.server import Server
from tests.browser.station import NewStation, Station
from tests.browser.test_paper import LOOK, contrast_on_white, printable_px

pytestmark = pytest.mark.browser


def relay(server: Server, late: str = "0:12:00") -> int:
    """A run of the relay, an hour and a half in, told late, and ended."""
    run = server.run("relay", "1:30:00")
    for step, at in (("out/1", "0:05:00"), ("out/2", late)):
        server.mark(run, step, at)
    server.mark(run, "cut/1", "0:16:30", voltage=1)
    server.mark(run, "cut/2", "0:17:00")
    server.order(run, "note", step="sweep/1", reason="The broom was frozen.")
    server.order(run, "put-off", task="sweep", reason="no broom")
    for person, at in (("BEN", "0:18:00"), ("CHI", "0:24:00")):
        server.order(run, "go", step="swap/1", person=person, at=at)
    for step, at in (("swap/1", "0:25:00"), ("swap/2", "0:34:00"), ("home/1", "0:40:00")):
        server.mark(run, step, at)
    server.order(run, "end", reason="all in")
    return run


@pytest.fixture(scope="module")
def runs(server: Server) -> tuple[int, int]:
    return relay(server), relay(server, "0:09:00")


@pytest.fixture(params=["debrief", "compare"])
def shown(request: pytest.FixtureRequest, browser: Browser, server: Server, runs: tuple[int, int]) -> Iterator[Page]:
    there = Station(browser, server.address)
    one, two = runs
    path = f"/runs/{one}/debrief" if request.param == "debrief" else f"/compare?run={one}&run={two}"
    page = there.open(path, live=False)
    page.evaluate("for (const each of document.querySelectorAll('details')) each.open = true")
    yield page
    there.context.close()
    assert not there.problems, "\n".join(there.problems)


def test_axe_finds_nothing_in_either_theme_wide_or_narrow(shown: Page) -> None:
    found = looked_through(shown)
    assert not found, "\n".join(found)


def test_no_page_scrolls_sideways_at_any_width(shown: Page) -> None:
    assert not too_wide(shown)


def test_on_paper_it_is_black_on_white_and_nothing_is_cut_off(shown: Page) -> None:
    landscape = "/compare" in shown.url
    wide = printable_px("A4") if not landscape else 1030
    shown.emulate_media(media="print")
    shown.set_viewport_size({"width": wide, "height": 1000})
    assert shown.evaluate("document.documentElement.scrollWidth") <= wide
    looked = list(shown.evaluate(LOOK.replace(".sheet *", "main *")))
    past = [each["name"] for each in looked if each["right"] > wide + 1]
    assert past == []
    for ink in {each["ink"] for each in looked if each["own"] and not each["title"]}:
        red, green, blue = (int(part) for part in re.findall(r"\d+", ink)[:3])
        assert red == green == blue, ink
        assert contrast_on_white(red) >= 4.5, ink
    small = {
        (each["name"], each["size"]) for each in looked if each["own"] and not each["title"] and each["size"] < 11.9
    }
    assert small == set()
    assert shown.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"


def test_the_debrief_prints_on_a4_with_the_heads_of_its_tables_repeated(
    runs: tuple[int, int], station: NewStation
) -> None:
    page = station().open(f"/runs/{runs[0]}/debrief", live=False)
    made = page.pdf(prefer_css_page_size=True)
    boxes = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)\s*\]", made)
    assert boxes
    for width, height in boxes:
        assert (float(width), float(height)) == pytest.approx((595.3, 841.9), abs=1)
    compared = station().open(f"/compare?run={runs[0]}&run={runs[1]}", live=False).pdf(prefer_css_page_size=True)
    wide = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)\s*\]", compared)
    assert wide
    assert all((float(w), float(h)) == pytest.approx((841.9, 595.3), abs=1) for w, h in wide)
    page.emulate_media(media="print")
    heads = page.eval_on_selector_all("thead", "all => all.map(each => getComputedStyle(each).display)")
    assert set(heads) == {"table-header-group"}


def test_the_file_opens_from_disk_with_everything_blocked_and_looks_the_same(
    browser: Browser, runs: tuple[int, int], station: NewStation, tmp_path: Path
) -> None:
    page = station().open(f"/runs/{runs[0]}/debrief", live=False)
    with page.expect_download() as kept:
        page.get_by_role("link", name="Keep it as a file").click()
    file = tmp_path / kept.value.suggested_filename
    assert file.name == f"relay-run-{runs[0]}-debrief.html"
    kept.value.save_as(file)
    context = browser.new_context(java_script_enabled=False, offline=True, viewport={"width": 1440, "height": 900})
    asked: list[str] = []
    context.on("request", lambda request: asked.append(request.url))
    alone = context.new_page()
    complaints: list[str] = []
    alone.on("console", lambda message: complaints.append(message.text))
    alone.goto(file.as_uri())
    expect(alone.get_by_role("heading", name="Where the lead was won and lost")).to_be_visible()
    assert [url for url in asked if not url.startswith("data:")] == [file.as_uri()]
    assert complaints == []
    for selector in ("#lanes", "h2", ".strip .done", ".strip .over", ".moves td", ".lead-chart .team"):
        assert _look(alone, selector) == _look(page, selector), selector
    assert alone.locator("#moves").inner_text() == page.locator("#moves").inner_text()
    context.close()


def _look(page: Page, selector: str) -> list[str]:
    look: list[str] = page.locator(selector).first.evaluate(
        "each => { const style = getComputedStyle(each); const box = each.getBoundingClientRect(); return ["
        "style.color, style.backgroundColor, style.fill, style.stroke, style.fontFamily, style.fontSize,"
        " String(Math.round(box.width)), String(Math.round(box.height))]; }"
    )
    return look


def test_runs_are_chosen_and_compared_by_keyboard_without_script(runs: tuple[int, int], station: NewStation) -> None:
    page = station(script=False).open("/compare?procedure=relay", live=False)
    for run in runs:
        page.locator(f'input[name="run"][value="{run}"]').focus()
        page.keyboard.press("Space")
    page.get_by_role("button", name="Compare").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Step by step")).to_be_visible()
    assert f"run={runs[0]}&run={runs[1]}" in page.url
    expect(page.locator("#steps")).to_contain_text("at the same time")


def test_every_change_of_the_lead_is_in_words_when_colours_are_taken_away(
    runs: tuple[int, int], station: NewStation
) -> None:
    there = station()
    there.page.emulate_media(forced_colors="active")
    page = there.open(f"/runs/{runs[0]}/debrief", live=False)
    told = page.locator(".moves").first.locator("tbody th").all_inner_texts()
    assert told
    assert all(re.search(r"\d+[hms]\S* (won|lost)", text) for text in told)
