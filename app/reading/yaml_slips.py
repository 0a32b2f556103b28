"""What the YAML parser stumbled over, in words that lead to the slip: where it was made, and how to mend it.

The parser tells where it could go no further, which is often lines below. It reads no file and knows no keys.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from ruamel.yaml.error import MarkedYAMLError, StreamMark, StringMark
from ruamel.yaml.events import Event, ScalarEvent

from app.reading.faults import PlacedFault

_Mark = StreamMark | StringMark | None
_NO_BLANK = re.compile(r"\s*(?:- +)*[\w.-]+:[^\s/]")
_NO_BLANK_AFTER_DASH = re.compile(r"\s*-[^\s-]")
_ONLY_A_KEY = re.compile(r"\s+[\w.-]+")
_FOUND = re.compile(r"found character '(.)'")


@dataclass(frozen=True, slots=True)
class _Slip:
    """Where the parser stopped, 0-based; where what it was in began; the lines; the last event before."""

    problem: str
    line: int
    column: int
    began: tuple[int, int] | None
    lines: list[str]
    last: Event | None

    @property
    def here(self) -> str:
        return self.lines[self.line] if self.line < len(self.lines) else ""

    def at(self, what: str, remedy: str, place: tuple[int, int] | None = None) -> PlacedFault:
        line, column = place or (self.line, self.column)
        return PlacedFault(line + 1, column + 1, f"not YAML: {what}", remedy)


def syntax_fault(error: MarkedYAMLError, text: str, last: Event | None) -> PlacedFault:
    """The fault that a syntax error comes to. `last`: the parser's last event before it."""
    mark = error.problem_mark or error.context_mark
    problem = " ".join(str(error.problem or error.context or "no sense could be made of it").split())
    line, column = (mark.line, mark.column) if mark else (0, 0)
    lines = [each.rstrip("\r") for each in text.split("\n")]
    slip = _Slip(problem, line, column, _place(error.context_mark), lines, last)
    unknown = slip.at(problem[:200], "look at this line and the one before")
    return next((fault for rule in _RULES for fault in rule(slip)), unknown)


def _place(mark: _Mark) -> tuple[int, int] | None:
    return (mark.line, mark.column) if mark else None


def _tab(slip: _Slip) -> Iterator[PlacedFault]:
    if found := _FOUND.match(slip.problem.replace("'\\t'", "'\t'")):
        if found[1] == "\t":
            yield slip.at("a tab stands here", "put spaces in its place: YAML is indented with spaces, never with tabs")
        else:
            yield slip.at(f"a text can't begin with {found[1]}", "put the text in quotes")


def _quote_closed_too_late(slip: _Slip) -> Iterator[PlacedFault]:
    """A quoted text that goes on over lines, right before what can't be read, was most likely never closed."""
    last = slip.last
    if isinstance(last, ScalarEvent) and last.style in ("'", '"') and last.end_mark.line > last.start_mark.line:
        what = f"the quotation mark that opens here is closed only in line {last.end_mark.line + 1}"
        yield slip.at(what, "close it where the text ends", _place(last.start_mark))


def _no_colon(slip: _Slip) -> Iterator[PlacedFault]:
    if "could not find expected ':'" not in slip.problem:
        return
    line, column = slip.began or (slip.line, slip.column)
    if line < len(slip.lines) and _NO_BLANK.match(slip.lines[line]):
        yield slip.at("there is no blank after the colon", "write key: value, with a blank after the colon", slip.began)
    else:
        what = "there is no colon after the key of this line"
        yield slip.at(what, "write key: value; a text that goes on is indented further than its key", (line, column))


def _no_blank_after_dash(slip: _Slip) -> Iterator[PlacedFault]:
    if _NO_BLANK_AFTER_DASH.match(slip.here) and "expected" in slip.problem:
        yield slip.at("there is no blank after the dash", "write a dash, a blank, then the item: - do: ...")


def _too_deep(slip: _Slip) -> Iterator[PlacedFault]:
    if "mapping values are not allowed" not in slip.problem:
        return
    if slip.line and _ONLY_A_KEY.fullmatch(slip.here[: slip.column]):
        what = "this line is indented further than the one above, which is complete"
        column = len(slip.here) - len(slip.here.lstrip())
        yield slip.at(what, "indent it like the lines beside it", (slip.line, column))
    else:
        remedy = "put a text that contains a colon and a blank in quotes, and check the indent"
        yield slip.at("a second colon stands in this line", remedy)


def _out_of_line(slip: _Slip) -> Iterator[PlacedFault]:
    if "expected <block end>" in slip.problem:
        remedy = "indent it like the lines beside it; an item of a list begins with a dash and a blank"
        yield slip.at("what begins here does not go on with what stands above", remedy)


def _bracket(slip: _Slip) -> Iterator[PlacedFault]:
    """Told at the bracket, unless the text is at its end."""
    if "expected ',' or" not in slip.problem or slip.began is None:
        return
    line, column = slip.began
    sign = "brace" if "}" in slip.problem else "bracket"
    if "stream end" in slip.problem:
        yield slip.at(f"the {sign} of line {line + 1}, column {column + 1} is never closed", f"close the {sign}")
    else:
        what = f"the {sign} that opens here is not closed before line {slip.line + 1}, column {slip.column + 1}"
        yield slip.at(what, f"close the {sign}, or put a comma between its parts", slip.began)


def _end_of_file(slip: _Slip) -> Iterator[PlacedFault]:
    if "unexpected end of stream" in slip.problem:
        line, column = slip.began or (slip.line, slip.column)
        what = f"unexpected end: the quotation mark of line {line + 1}, column {column + 1} is never closed"
        yield slip.at(what, "close the quotation mark")


def _escape(slip: _Slip) -> Iterator[PlacedFault]:
    if "unknown escape character" in slip.problem:
        yield slip.at(slip.problem[:200], "write a backslash twice, or use single quotes")


_RULES = (
    _tab,
    _quote_closed_too_late,
    _no_colon,
    _no_blank_after_dash,
    _too_deep,
    _out_of_line,
    _bracket,
    _end_of_file,
    _escape,
)
"""The first that knows the slip tells it."""
