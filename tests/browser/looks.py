"""`make look`: a screenshot of every page at every width in both themes, and as printed, in a folder with an index.

For the eyes of whoever changes a page: it judges nothing. `python -m tests.browser.looks --out DIR [NAME...]`.
"""

import argparse
import html
import tempfile
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from tests.browser.conftest import FLAGS, chromium
from tests.browser.every_page import SLOW_MS, Seen, every_page, opened
from tests.browser.seeing import PAPER_PX
from tests.browser.server import Server
from tests.browser.station import Station

WIDTHS = (390, 768, 1440, 2560)
THEMES = ("dark", "light")
HIGHEST = 2_500
"""Of a page that is longer only so much is kept, in px."""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=Path("dist/look"), help="the folder to write to")
    parser.add_argument("names", nargs="*", help="only these pages, by the names of the index")
    asked = parser.parse_args()
    asked.out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, Server(Path(folder), "demo") as demo, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=list(FLAGS))
        there = Station(browser, demo.address)
        pages = [seen for seen in every_page(demo) if not asked.names or seen.name in asked.names]
        for seen in pages:
            opened(there.page, seen)
            _taken(there.page, seen, asked.out)
            print(seen.name, flush=True)
        browser.close()
    (asked.out / "index.html").write_text(_index(pages), encoding="utf-8")
    print(f"{asked.out / 'index.html'}: {len(pages)} pages")


def _taken(page: Page, seen: Seen, out: Path) -> None:
    for theme in THEMES:
        page.evaluate("theme => { document.documentElement.dataset.theme = theme }", theme)
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 900})
            _shot(page, out / f"{seen.name}-{theme}-{width}.png", width)
    page.emulate_media(media="print")
    page.set_viewport_size({"width": PAPER_PX[""], "height": 900})
    _shot(page, out / f"{seen.name}-print.png", PAPER_PX[""])
    page.emulate_media(media="screen")


def _shot(page: Page, path: Path, width: int) -> None:
    high = min(page.evaluate("document.documentElement.scrollHeight"), HIGHEST)
    page.screenshot(path=path, full_page=True, timeout=SLOW_MS, clip={"x": 0, "y": 0, "width": width, "height": high})


def _index(pages: list[Seen]) -> str:
    rows = []
    for seen in pages:
        names = [f"{seen.name}-{theme}-{width}.png" for theme in THEMES for width in WIDTHS]
        shots = " ".join(
            f'<a href="{name}"><img src="{name}" alt="{name}" height="300"></a>'
            for name in (*names, f"{seen.name}-print.png")
        )
        rows.append(f"<h2>{seen.name}</h2><p>{html.escape(seen.path)}</p><p>{shots}</p>")
    return f"<!doctype html><meta charset=utf-8><title>Looks</title>{''.join(rows)}\n"


if __name__ == "__main__":
    main()
