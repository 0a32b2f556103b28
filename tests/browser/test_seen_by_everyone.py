"""Every page can be used by everyone: read by axe, at every width, by keyboard alone, on paper, without motion.

The pages are those of the table of rights (`every_page`), so a new one is among them by itself.
"""

from collections.abc import Iterator, Mapping

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.every_page import SLOW_MS, every_page, opened
from tests.browser.seeing import moving, printed, read_by_axe, unfolded, walked, wide
from tests.browser.server import Server
from tests.browser.station import Station

pytestmark = pytest.mark.browser

Found = Mapping[str, Mapping[str, list[str]]]
"""What is amiss, by check and by page."""


@pytest.fixture(scope="module")
def found(browser: Browser, demo: Server) -> Found:
    """Each page is opened once, and all is looked for on it."""
    there = Station(browser, demo.address)
    there.context.set_default_timeout(SLOW_MS)
    amiss: dict[str, dict[str, list[str]]] = {check: {} for check in ("tab", "motion", "width", "axe", "paper")}
    for seen in every_page(demo):
        opened(there.page, seen)
        amiss["motion"][seen.name] = moving(there.page)
        amiss["tab"][seen.name] = walked(there.page)
        unfolded(there.page)
        amiss["width"][seen.name] = wide(there.page)
        amiss["axe"][seen.name] = read_by_axe(there.page)
        amiss["paper"][seen.name] = printed(there.page)
    there.context.close()
    assert not there.problems, "\n".join(there.problems)
    return amiss


def _none(found: Found, check: str) -> None:
    assert len(found[check]) >= 36
    lines = [f"{page}: {line}" for page, all_lines in found[check].items() for line in all_lines]
    assert not lines, "\n".join(lines)


def test_axe_finds_nothing_on_any_page_in_either_theme(found: Found) -> None:
    _none(found, "axe")


def test_no_page_scrolls_sideways_at_any_width_nor_at_twice_the_zoom(found: Found) -> None:
    _none(found, "width")


def test_tab_comes_to_everything_on_every_page_and_the_focus_is_seen(found: Found) -> None:
    _none(found, "tab")


def test_nothing_moves_for_who_asked_for_less_motion(found: Found) -> None:
    _none(found, "motion")


def test_every_page_can_be_printed(found: Found) -> None:
    _none(found, "paper")


# What looks is itself tried on pages that are amiss

BAD = """<!doctype html><html lang=en><title>Bad</title><style>
body { background: #111; color: #eee; transition: color 1s } .cut { height: 10px; overflow: hidden }
:focus-visible { outline: 3px solid red }
.wide { width: 3000px } button.bare:focus { outline: none } .fixed { position: fixed; bottom: 0 }
body .pale { color: #333 } .aside { position: absolute; left: -900px }
.lid { position: relative; display: inline-block } .lid i { position: absolute; inset: -4px; background: #222 }
.spin { animation: turn 5s infinite } @keyframes turn { to { rotate: 360deg } }
</style><main><h1>Bad</h1><p class=wide>wide</p><p class=cut>cut<br>cut<br>cut</p><p class=fixed>fixed</p>
<p class=spin>spin</p>
<p class=pale>pale</p><img src='data:,'>
<button>first</button><button class=aside>aside</button>
<span class=lid><button>under</button><i></i></span>
<button class=bare>bare</button><input id=trap aria-label=trap>
<button id=after>after</button></main>
<script>document.getElementById('trap').addEventListener('keydown', (key) => key.preventDefault())</script>"""
GOOD = """<!doctype html><html lang=en><title>Good</title><style>:focus-visible { outline: 3px solid blue }</style>
<main><h1>Good</h1><button>first</button><input type=radio name=a id=a><label for=a>a</label>
<input type=radio name=a id=b><label for=b>b</label>
<details><summary>more</summary><button>hidden</button></details></main>"""


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1440, "height": 900})
    yield context.new_page()
    context.close()


def test_each_check_finds_what_is_planted_for_it(page: Page) -> None:
    page.set_content(BAD)
    tabbed = walked(page)
    assert any("bare has no mark of the focus" in line for line in tabbed)
    assert any("after is never come to by Tab" in line for line in tabbed)
    assert not any("first" in line for line in tabbed)
    assert any("aside is out of sight" in line for line in tabbed)
    assert any("under is covered" in line for line in tabbed)
    assert "an animation" in moving(page)
    assert any(line.startswith("BODY") for line in moving(page))
    assert [line.partition(" ")[0] for line in wide(page)] == ["320", "390", "720", "768", "1440", "2560"]
    on_paper = printed(page)
    assert any("the ground is dark" in line for line in on_paper)
    assert any("P#.cut is cut" in line for line in on_paper)
    assert any("P#.fixed would stand on every sheet" in line for line in on_paper)
    assert any("px wide" in line for line in on_paper)
    assert any(line.startswith("too pale: color-contrast") for line in on_paper)
    by_axe = read_by_axe(page)
    assert any("dark 1440: image-alt" in line for line in by_axe)
    assert any("light 390: color-contrast" in line for line in by_axe)


def test_no_check_finds_anything_on_a_plain_page(page: Page) -> None:
    page.set_content(GOOD)
    assert not [*walked(page), *moving(page), *wide(page), *printed(page), *read_by_axe(page)]
