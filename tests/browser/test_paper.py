"""What Chromium prints of the sheets: on A4 and Letter, in black on white, with nothing cut off."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.server import Server

pytestmark = pytest.mark.browser

PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Millimetres; ISO 216 and ANSI Y14.1, from memory."""
MARGIN_MM = 12.0
PX_PER_MM = 96 / 25.4
"""CSS Values and Units 4, 6.2: an inch is 96 px and 25.4 mm."""

LOOK = """() => [...document.querySelectorAll('.sheet *')].filter((one) => one.getClientRects().length).map((one) => {
  const style = getComputedStyle(one);
  const own = [...one.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim());
  const ink = one.namespaceURI.endsWith('svg') ? style.fill : style.color;
  return { own, ink, size: parseFloat(style.fontSize), right: one.getBoundingClientRect().right,
           name: one.tagName + '.' + one.getAttribute('class'), title: one.tagName.toLowerCase() === 'title' };
})"""
"""Of everything that is shown: whether it has text of its own, its colour, size and right edge in px."""


@dataclass(frozen=True)
class Sheet:
    page: Page
    path: str


@pytest.fixture(params=["pump-changeout", "balloon-launch"])
def procedure(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture(params=["briefing", "lists"])
def sheet(request: pytest.FixtureRequest, demo: Server, browser: Browser, procedure: str) -> Iterator[Sheet]:
    context = browser.new_context(base_url=demo.address)
    path = f"/procedures/{procedure}/{request.param}"
    page = context.new_page()
    page.goto(path)
    page.locator(".sheet").first.wait_for()
    yield Sheet(page, path)
    context.close()


def printable_px(paper: str) -> int:
    return int((PAPERS[paper][0] - 2 * MARGIN_MM) * PX_PER_MM)


@pytest.mark.parametrize("paper", PAPERS)
def test_the_pdf_has_the_paper_s_size_and_its_text_in_it(sheet: Sheet, paper: str) -> None:
    """A page of a PDF has its size in points of 1/72 inch (ISO 32000-1, 14.11.2, from memory)."""
    made = sheet.page.pdf(format=paper)
    boxes = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)\s*\]", made)
    assert boxes
    wide, high = (each / 25.4 * 72 for each in PAPERS[paper])
    for width, height in boxes:
        assert (float(width), float(height)) == pytest.approx((wide, high), abs=1)
    assert 2 <= len(re.findall(rb"/Type\s*/Page\b(?!s)", made)) <= 14
    assert b"/Font" in made


@pytest.mark.parametrize("paper", PAPERS)
def test_on_paper_nothing_runs_past_the_printable_width(sheet: Sheet, paper: str) -> None:
    sheet.page.emulate_media(media="print")
    sheet.page.set_viewport_size({"width": printable_px(paper), "height": 1000})
    wide = sheet.page.evaluate("document.documentElement.scrollWidth")
    assert wide <= printable_px(paper)
    past = [each["name"] for each in sheet.page.evaluate(LOOK) if each["right"] > printable_px(paper) + 1]
    assert past == []


@pytest.mark.parametrize("theme", ["dark", "light"])
def test_on_paper_all_ink_is_black_or_a_grey_that_can_be_read(sheet: Sheet, theme: str) -> None:
    """4.5:1 on white, WCAG 2.2, 1.4.3; a grey has three equal parts."""
    sheet.page.evaluate("theme => document.documentElement.dataset.theme = theme", theme)
    sheet.page.emulate_media(media="print")
    inks = {each["ink"] for each in sheet.page.evaluate(LOOK) if each["own"] and not each["title"]}
    assert inks
    for ink in inks:
        red, green, blue = (int(part) for part in re.findall(r"\d+", ink)[:3])
        assert red == green == blue, ink
        assert contrast_on_white(red) >= 4.5, ink
    assert sheet.page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"


def contrast_on_white(grey: int) -> float:
    """WCAG 2.2: (1.05) / (L + 0.05), with the luminance L of a grey of 0 to 255."""
    part = grey / 255
    return 1.05 / ((part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4) + 0.05)


def test_on_paper_no_text_is_smaller_than_nine_points(sheet: Sheet) -> None:
    sheet.page.emulate_media(media="print")
    small = {(each["name"], each["size"]) for each in sheet.page.evaluate(LOOK) if each["own"] and each["size"] < 11.9}
    assert small == set()


@pytest.mark.parametrize("paper", PAPERS)
def test_the_column_for_hand_written_times_takes_a_hand(demo: Server, browser: Browser, paper: str) -> None:
    """At least 25 mm wide and 10 mm high: common practice, no source."""
    page = browser.new_page(base_url=demo.address)
    page.goto("/procedures/pump-changeout/lists/EV2")
    page.emulate_media(media="print")
    page.set_viewport_size({"width": printable_px(paper), "height": 1000})
    cells = [cell.bounding_box() for cell in page.locator("td.hand").all()]
    assert len(cells) > 10
    for box in cells:
        assert box is not None
        assert box["width"] >= 25 * PX_PER_MM
        assert box["height"] >= 10 * PX_PER_MM
    page.close()


@pytest.mark.parametrize("width", [390, 768, 1440, 2560])
def test_on_a_screen_no_sheet_scrolls_sideways(sheet: Sheet, width: int) -> None:
    sheet.page.set_viewport_size({"width": width, "height": 900})
    assert sheet.page.evaluate("document.documentElement.scrollWidth") <= width
