"""What the browser tests look at on every page: what axe finds, and whether it fits. No test of its own."""

from pathlib import Path
from typing import Any

from playwright.sync_api import Page

AXE = (Path(__file__).parents[1] / "vendor" / "axe.min.js").read_text(encoding="utf-8")
RULES: dict[str, Any] = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "resultTypes": ["violations"],
}
OUTSIDE = ["#swagger-ui"]
"""Swagger UI's own part of the API page is another project's, vendored as it is; what is around it is ours."""

WIDTHS = (390, 720, 768, 1440, 2560)
"""720 is what a window of 1440 has at 200 % zoom."""


def violations(page: Page, rules: dict[str, Any] = RULES) -> list[str]:
    """What axe finds, a line each: the rule, where, and why."""
    found: dict[str, Any] = page.evaluate(
        "([outside, rules]) => axe.run({exclude: outside.map(each => [each])}, rules)", [OUTSIDE, rules]
    )
    return [
        f"{rule['id']}: {node['target']} {node['failureSummary']}"
        for rule in found["violations"]
        for node in rule["nodes"]
    ]


def looked_through(page: Page) -> list[str]:
    """What axe finds in both themes, wide and narrow, a line each."""
    page.evaluate(AXE)
    found = []
    for width in (1440, 390):
        page.set_viewport_size({"width": width, "height": 900})
        for theme in ("dark", "light"):
            page.evaluate("theme => { document.documentElement.dataset.theme = theme }", theme)
            found += [f"{theme} {width}: {line}" for line in violations(page)]
    return found


def too_wide(page: Page) -> dict[int, int]:
    """The widths at which the page scrolls sideways, with what it needs."""
    found = {}
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        needs = page.evaluate("document.scrollingElement.scrollWidth")
        if needs > width:
            found[width] = needs
    return found
