"""Characters that no text may hold, because what is shown would not be what was written. It refuses nothing itself."""

import re
import unicodedata

FORBIDDEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f"  # control characters but tab, CR and LF
    "\u2028\u2029"  # line and paragraph separators: editors do not agree whether they begin a line
    "\u202a-\u202e\u2066-\u2069"  # hidden direction marks: they turn round what stands after them on the line
    "\ufeff\ufffe\uffff\ud800-\udfff]"
)
MOST_MARKS = 30
"""Accents and the like on one letter: Unicode Standard Annex 15, Stream-Safe Text Format (from memory). More of them
run over the lines around."""


def shown(text: str) -> str:
    """The text as somebody meant it to be read: a blank for each forbidden sign, and no letter with too many marks."""
    plain = FORBIDDEN.sub(" ", text)
    if plain.isascii():
        return plain
    kept, marks = [], 0
    for sign in plain:
        marks = marks + 1 if unicodedata.category(sign) in ("Mn", "Me") else 0
        if marks <= MOST_MARKS:
            kept.append(sign)
    return "".join(kept)
