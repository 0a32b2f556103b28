"""Where each screen and each word of it is explained in the help. The words stand in the pages themselves.

A page of the help marks what it explains as ``<dfn id="…">``; this reads the pages as they are rendered, so there is
no second list to keep. It renders nothing and knows no route.
"""

import html
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

PAGES: Mapping[str, str] = {
    "": "Help",
    "ground-support": "Ground support",
    "flight-lead": "Flight lead",
    "planner": "Planner",
    "trainer": "Trainer",
    "keeper": "Keeper",
}
"""The last part of each page's address, with its name."""

SCREENS: Mapping[str, str] = {
    **dict.fromkeys(("home", "bar", "keys"), ""),
    **dict.fromkeys(("desk", "list", "handover", "log", "link", "outbox"), "ground-support"),
    **dict.fromkeys(("lead",), "flight-lead"),
    **dict.fromkeys(("plan", "sheets", "durations"), "planner"),
    **dict.fromkeys(("trainer", "replay", "debrief", "compare"), "trainer"),
    **dict.fromkeys(("people", "sign-in", "password", "runs", "api"), "keeper"),
}
"""Each screen, or part of every screen, with the page that has a section of this name for it."""

ANY = "…"
"""Stands in a word for what changes: a time, a name."""

FEW = 4
"""Letters of a word that is short."""

_TERM = re.compile(r'<dfn\b[^>]*\bid="([^"]+)"[^>]*>(.*?)</dfn>', re.S)


@dataclass(frozen=True, slots=True)
class Explained:
    """A word that a page explains: the page, the element there, and the word, `ANY` in place of what changes."""

    page: str
    anchor: str
    word: str

    @property
    def address(self) -> str:
        return f"{address_of(self.page)}#{self.anchor}"

    def matches(self, text: str) -> bool:
        """Whether this is the word for a text of a screen, whatever its case."""
        parts = [re.escape(part) for part in plain(self.word).split(ANY)]
        # Of a word as short as "… of …" what changes is one name or number, else it would stand for far too much.
        changes = r"\S+" if sum(sign.isalpha() for sign in self.word) < FEW else ".+"
        return re.fullmatch(changes.join(parts), plain(text)) is not None


def address_of(page: str) -> str:
    return f"/help/{page}" if page else "/help"


def help_at(screen: str) -> str:
    """The address of the help about a screen, ``list/EV1`` among them; about all of it for one that has no section."""
    name = screen.split("/")[0]
    return f"{address_of(SCREENS[name])}#{name}" if name in SCREENS else "/help"


def slug(word: str) -> str:
    """A word as the end of an anchor: small letters and digits, with hyphens between, ``any`` for what changes."""
    return re.sub(r"[^a-z0-9]+", "-", word.replace(ANY, " any ").casefold()).strip("-")


def plain(text: str) -> str:
    """A text without case, and with single spaces."""
    return " ".join(text.split()).casefold()


def explained(page: str, rendered: str) -> tuple[Explained, ...]:
    """What a page of the help explains, in its order."""
    return tuple(
        Explained(page, anchor, " ".join(html.unescape(re.sub(r"<[^>]*>", "", word)).split()))
        for anchor, word in _TERM.findall(rendered)
    )


def find(words: Iterable[Explained], text: str, screen: str = "") -> Explained | None:
    """The word for a text that stands on a screen: that screen's before others', what is said exactly before `ANY`.

    A text that has more than its word, such as a heading with a number behind it, is known by how it begins.
    """
    name, known = screen.split("/")[0], tuple(words)
    matching = [each for each in known if each.matches(text)] or [each for each in known if _begins(each, text)]
    return max(matching, key=lambda each: (each.anchor.startswith(f"{name}-"), _said(each)), default=None)


def _said(word: Explained) -> int:
    """How much of a word is said exactly."""
    return len(word.word.replace(ANY, ""))


def _begins(word: Explained, text: str) -> bool:
    said = plain(word.word)
    return ANY not in said and re.match(rf"{re.escape(said)}\b", plain(text)) is not None
