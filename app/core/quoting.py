"""A text that somebody else wrote, as a sentence repeats it: short, on one line, nothing hidden. It judges nothing."""

LONGEST = 40


def quoted(text: str) -> str:
    """The text between quotation marks, cut at LONGEST signs; what can't be printed is shown as U+FFFD."""
    line = " ".join(text.split())
    said = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in line[: LONGEST + 1])
    return f"“{said[:LONGEST]}…”" if len(line) > LONGEST else f"“{said}”"
