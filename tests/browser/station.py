"""One station: a browser of its own, with everything it complains about. It starts no server."""

import re
from collections.abc import Callable
from urllib.parse import urlsplit

from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Locator, Page, Request

AT_ONCE_MS = 2_000
"""Within this time a change must be seen at every other station."""

ONE_PRESS_MS = 500
"""As in static/leadline.js: within this time a second press in one part of a page is the same press."""

ANSWERED_MS = 350
"""What it is counted from, a part that shows the next step, may come so much later than the press itself."""

_REFUSED = re.compile(r"Failed to load resource: the server responded with a status of (404|409|422) ")
"""Chromium itself reports each answer of such a status; a refused order is one, and no fault of the page."""

_DOWN = re.compile("net::ERR_|TypeError: Failed to fetch|status of 50[234]|htmx:error: timeout")
"""What Chromium and htmx report while a server does not answer."""


class Station:
    """A browser context with one page. `problems` holds console errors, CSP violations and requests to other origins.

    While `server_down` is set, failed connections to the server are not among them.
    """

    def __init__(self, browser: Browser, address: str, script: bool = True, width: int = 1440) -> None:
        self.address = address
        self.problems: list[str] = []
        self.asked: list[str] = []
        self.server_down = False
        self._has_clock = False
        self.context: BrowserContext = browser.new_context(
            base_url=address, java_script_enabled=script, viewport={"width": width, "height": 900}
        )
        self.context.set_default_timeout(5_000)
        self.context.on("request", self._on_request)
        self.context.on("console", self._on_console)
        self.context.on("weberror", lambda error: self.problems.append(f"script error: {error.error}"))
        self.page: Page = self.context.new_page()

    def _on_request(self, request: Request) -> None:
        self.asked.append(request.url)
        if urlsplit(request.url).netloc != urlsplit(self.address).netloc and not request.url.startswith("data:"):
            self.problems.append(f"asked another origin: {request.url}")

    def _on_console(self, message: ConsoleMessage) -> None:
        if message.type not in {"error", "warning"} or _REFUSED.match(message.text):
            return
        if self.server_down and _DOWN.search(message.text):
            return
        self.problems.append(f"console {message.type}: {message.text}")

    def open(self, path: str, live: bool = True) -> Page:
        """Go to a page; a live page is waited for until its stream has spoken."""
        self.page.goto(path)
        if live:
            self.page.locator("#link.live").wait_for()
        return self.page

    def take_clock(self) -> None:
        """From here on the clock of the page can be set forward; it still runs."""
        self.page.clock.install()
        self._has_clock = True

    def next_press(self) -> None:
        """Wait until a press counts as a new one, and not as the second half of a double press."""
        if self._has_clock:
            self.page.clock.fast_forward(ONE_PRESS_MS)
        else:
            self.page.wait_for_timeout(ONE_PRESS_MS + ANSWERED_MS)

    def tab(self, path: str) -> Page:
        """One more page of the same browser, live."""
        page = self.context.new_page()
        page.goto(path)
        page.locator("#link.live").wait_for()
        return page

    def band(self, designator: str) -> Locator:
        """The band of one person on the Desk or on My list."""
        return self.page.locator(f'section.band[aria-label="{designator}"]')

    def done(self, designator: str) -> Locator:
        """The button that marks the step of this person's band."""
        return self.band(designator).get_by_role("button", name="Done", exact=True)

    def folded(self, designator: str, name: str) -> Locator:
        """A part of the band that is folded away: ``more``, ``no-go``, ``correct`` or ``accept``."""
        return self.band(designator).locator(f'details[id^="{name}-"]')

    def reads(self, designator: str, *people: str) -> None:
        """Each of these acknowledges the warning of the step of this person's band, heard at the Desk."""
        for person in people:
            self.band(designator).get_by_role("button", name=f"{person} has acknowledged").click()
            self.band(designator).get_by_text(f"{person} acknowledged").wait_for()
            self.next_press()


NewStation = Callable[..., Station]
