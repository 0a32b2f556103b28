"""What somebody who writes a first file gets wrong is told at its place, in words that say what to do.

Each slip is made in the starter file; the faults that follow from it may stand beside it, but never before it.
"""

import re

import pytest

from app.reading.files import read_file
from app.reading.shown_lines import drawn
from app.writing.files import written
from app.writing.starter import starter

PLAIN = starter("first-outing", "First outing")
FULL = re.sub(r"(?m)^( *)# ", r"\1", PLAIN)
"""Every field that was switched off is on."""

CARRY = "      - do: Carry the bag to the foot of the mast\n        takes: 6 min\n"
BARE = CARRY.replace("        takes: 6 min\n", "")
STEP = "      - do: Go back inside and shut the hatch\n        takes: 8 min"
LESS, MORE = CARRY.replace("        takes", "       takes"), CARRY.replace("        takes", "         takes")
NARROW = "[[0:05, 1:10], [1:25, 1:50]]"

# The slip: the text of the file and what is written in its place; the text of the line that is told and, with a caret,
# the place in it; what is said, and what to do.
SLIPS = {
    "no colon": (PLAIN, "zero: Hatch open", "zero Hatch open", "^zero Hatch", "no colon after", "write key:"),
    "no colon in a step": (PLAIN, CARRY, CARRY.replace("takes:", "takes"), "^takes 6 min", "no colon", "write key:"),
    "no blank after it": (PLAIN, "zero: Hatch", "zero:Hatch", "^zero:Hatch", "no blank after", "with a blank"),
    "a tab": (PLAIN, "  finish: 2:00", "\tfinish: 2:00", "^→finish: 2:00", "a tab stands", "put spaces"),
    "an unknown field": (PLAIN, "zero: Hatch", "colour: Hatch", "^colour", "no key “colour”", "known are"),
    "a misspelt field": (PLAIN, "takes: 6 min", "take: 6 min", "^take: 6", "no key “take”", "mean takes?"),
    "a misspelt task": (PLAIN, "[go-out]", "[go-uot]", "[^go-uot", "no task", "mean “go-out”?"),
    "no unit": (PLAIN, "takes: 6 min", "takes: 6", "takes: ^6", "its unit", "for example 8 min"),
    "a clock for a duration": (PLAIN, "takes: 6 min", "takes: 0:06", "^0:06", "not a duration", "write the unit"),
    "a duration for a clock": (PLAIN, "2:00", "2 h", "finish: ^2 h", "not an elapsed time", "write h:mm"),
    "a dot for a colon": (PLAIN, "2:00", "2.00", "finish: ^2.00", "not an elapsed time", "write h:mm"),
    "a circle": (PLAIN, "[go-out]", "[come-in]", "[^come-in]", "in a circle", "take out one"),
    "an unknown person": (PLAIN, "[EV2]", "[EV3]", "[^EV3]", "not in the crew", "mean “EV2”?"),
    "two people in one text": (PLAIN, "[EV2]", "EV1 and EV2", "^EV1 and", "not in the crew", "[EV1, EV2]"),
    "a task twice": (PLAIN, "task: look-at-cables", "task: go-out", "task: ^go-out", "twice", "its own name"),
    "a person twice": (PLAIN, "  EV2:", "  EV1:", "^EV1: {does: \"Outside, along", "twice", "keep one"),
    "a window too short": (FULL, NARROW, "[[0:05, 0:10]]", "takes: ^6 min", "longer than any", "divide"),
    "a window too early": (FULL, NARROW, "[[0:01, 0:10]]", "within: ^daylight", "no opening", "add an opening"),
    "an unknown window": (FULL, "within: daylight", "within: dayligt", "within: ^dayligt", "no window", "“daylight”?"),
    "one opening for a list": (FULL, NARROW, "[0:05, 1:10]", "[^0:05", "needs two", "[0:10, 1:05]"),
    "no duration": (PLAIN, CARRY, BARE, "- ^do: Carry", "lacks the key", "takes: 8 min"),
    "too little indent": (PLAIN, CARRY, LESS, "^takes: 6", "does not go on", "indent it"),
    "too much indent": (PLAIN, CARRY, MORE, "^takes: 6", "further than", "indent it"),
    "no dash": (PLAIN, CARRY, CARRY.replace("- do", "  do"), "^do: Carry", "twice", "put a dash"),
    "no blank after a dash": (PLAIN, CARRY, CARRY.replace("- do", "-do"), "^-do: Carry", "no blank", "a dash, a blank"),
    "a text for a list": (PLAIN, f"steps:\n{STEP}", "steps: Go in", "steps: ^Go in", "a list", "a dash"),
    "a list for a mapping": (PLAIN, "{go: [GROUND]}", "[GROUND]", "^hold: [GROUND]", "a mapping", "{go: [EV1]}"),
    "a colon in a text": (PLAIN, "do: Switch", "do: Switch:", "do: Switch^: the", "a second colon", "in quotes"),
    "no closing quote": (PLAIN, '"First outing"', '"First outing', 'title: ^"First', "only in line 15", "close it"),
    "no closing bracket": (PLAIN, "[EV2]", "[EV2", "who: ^[EV2", "not closed", "close the bracket"),
    "a percent sign": (FULL, 'unit: "%"', "unit: %", "unit: ^%", "can't begin with %", "in quotes"),
    "worth forgotten": (PLAIN, "# may_put_off", "may_put_off", "may_put_off: ^true", "its worth", "add worth:"),
    "a key and nothing under it": (PLAIN, "# windows:", "windows:", "^windows:", "is empty", "take the line out"),
}  # fmt: skip

TABLE = written(read_file(PLAIN.encode()).procedure, "csv").decode("utf-8-sig")  # type: ignore[arg-type] # it is sound
CSV_SLIPS = {
    "no unit": (",6 min", ",6", "mast,,^6,,", "its unit", "for example 8 min"),
    "an unknown person": ("EV1; EV2", "EV1; EV3", "set up,^EV1; EV3", "“EV3” is not in the crew", "“EV2”?"),
    "an unknown row": ("step,", "stp,", "^stp,go-out", "no kind of row “stp”", "did you mean step?"),
    "an unknown column": ("takes", "tkes", "who,^tkes,", "no column “tkes”", "did you mean takes?"),
    "no closing quote": ("Hatch open", '"Hatch open', '^"Hatch open', "whole rows stand", "close the quotation mark"),
    "a text forgotten": ("Switch it on", "", "change-lamp,^,,1 min", "lacks its text", "write what to do under text"),
}


def _holds(name: str, text: str, old: str, new: str, place: str, what: str, remedy: str) -> None:
    assert old in text
    reading = read_file(text.replace(old, new, 1).encode(), name)
    assert reading.procedure is None
    fault = reading.faults[0]
    assert what in fault.what, reading.faults[:3]
    assert remedy in fault.remedy, reading.faults[:3]
    line, caret = drawn(fault)
    before, _, after = place.partition("^")
    at = caret.index("^")
    assert line[:at].endswith(before), f"{line}\n{caret}"
    assert line[at:].startswith(after), f"{line}\n{caret}"
    assert line.startswith(f"{fault.line:>6} | ")


@pytest.mark.parametrize("slip", SLIPS.values(), ids=SLIPS)
def test_a_slip_in_a_first_file_is_told_at_its_place_with_what_to_do(slip: tuple[str, str, str, str, str, str]) -> None:
    _holds("first.yaml", *slip)


@pytest.mark.parametrize("slip", CSV_SLIPS.values(), ids=CSV_SLIPS)
def test_a_slip_in_a_first_table_is_told_at_its_cell_with_what_to_do(slip: tuple[str, str, str, str, str]) -> None:
    _holds("first.csv", TABLE, *slip)


def test_a_long_line_is_shown_around_the_place_and_a_wide_sign_moves_the_caret() -> None:
    long = read_file(b"procedure: p\ntitle: T\ntasks: [" + b"{task: a, steps: [{do: x, takes: 1 min}]}, " * 9 + b"b]\n")
    line, caret = drawn(long.faults[-1])
    assert len(line) < 120
    assert line[caret.index("^")] == "b"
    wide = read_file(
        "procedure: p\ntitle: T\ntasks: [{task: a, title: 灯, after: zz, steps: [{do: x, takes: 1 min}]}]\n".encode()
    )
    line, caret = drawn(wide.faults[0])
    assert caret.index("^") == line.index("zz") + 1
