"""CSV tables: the rules of RFC 4180, what spreadsheets write, and files that are refused in words, in time, whole."""

import re
from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from app.core.procedure import Procedure
from app.reading.columns import KINDS as KINDS_OF_ROWS
from app.reading.csv_file import looks_like_csv, read_csv
from app.reading.files import kind_of, read_file
from app.reading.procedure_reader import read_procedure
from app.writing.csv_file import csv_bytes
from app.writing.table import rows_of
from tests.service.making import SMALL as YAML
from tests.writing.full import texts

SMALL = """\
row,name,text,who,takes
procedure,p,P
crew,EV1,Outside
task,a,A,EV1
step,a,Do it,,8 min
"""


def sound(data: bytes | str) -> Procedure:
    reading = read_csv(data)
    assert reading.faults == ()
    assert reading.procedure is not None
    return reading.procedure


def refused(data: bytes | str) -> tuple[str, str, str]:
    reading = read_csv(data)
    assert reading.procedure is None
    fault = reading.faults[0]
    assert fault.remedy
    return fault.where, fault.what, fault.remedy


def do(text: str) -> str:
    return sound(text).steps[0].do


# RFC 4180, section 2: the rules by their numbers.
RULES = [
    ("1: lines end with CR LF", SMALL.replace("\n", "\r\n"), "Do it"),
    ("2: the last line may have no end", SMALL.rstrip("\n"), "Do it"),
    ("4: spaces are part of a field, and no text of ours begins with one", SMALL.replace("Do it", " Do it "), "Do it"),
    ("5: a field may stand in quotes", SMALL.replace("Do it", '"Do it"'), "Do it"),
    ("6: commas in quotes", SMALL.replace("Do it", '"Do it, now"'), "Do it, now"),
    ("6: line breaks in quotes", SMALL.replace("Do it", '"Do\r\nit"'), "Do\r\nit"),
    ("7: a quotation mark is doubled", SMALL.replace("Do it", '"Do ""it"""'), 'Do "it"'),
]


@pytest.mark.parametrize(("text", "said"), [rule[1:] for rule in RULES], ids=[rule[0] for rule in RULES])
def test_the_rules_of_rfc_4180_hold(text: str, said: str) -> None:
    assert do(text) == said


OTHERS = {
    "semicolons": SMALL.replace(",", ";"),
    "tabs": SMALL.replace(",", "\t"),
    "a byte-order mark": "\ufeff" + SMALL,
    "old line ends": SMALL.replace("\n", "\r"),
    "empty columns at the end": SMALL.replace("\n", ",,,\n"),
    "blank lines": SMALL.replace("\n", "\n\n,,,,\n"),
    "capitals and blanks": SMALL.replace("row,name,text", "Row, Name,TEXT").replace("step,", "Step,"),
    "quoted header": SMALL.replace("row,name", '"row","name"'),
    "remarks": SMALL.replace("task,", '# the task,"anything, at all"\ntask,'),
}


@pytest.mark.parametrize("text", OTHERS.values(), ids=OTHERS)
def test_what_spreadsheets_write_is_read(text: str) -> None:
    assert sound(text) == sound(SMALL)
    assert sound(text.encode()) == sound(SMALL)


REFUSED = [
    ("an open quotation mark", SMALL.replace("Do it", '"Do it'), "line 5, column 8", "never closed", "close it"),
    ("one that swallows rows", SMALL.replace("A,EV1", '"A,EV1') + 'step,a,"y",,1 min\n', "line 4, column 8",
     "whole rows stand inside", "in the row where it opens"),
    ("one that swallows a field", SMALL.replace("P\n", '"P\n') + 'step,a,"y,z",,1 min\n', "line 2, column 13",
     "whole rows stand inside", "in the row where it opens"),
    ("a mark inside a field", SMALL.replace("Do it", 'Do "it"'), "line 5, column 8, cell C5", "a quotation mark inside",
     "double"),
    ("text after a mark", SMALL.replace("Do it", '"Do" it'), "line 5, column 8", "“it” follows", "double"),
    ("200 KB in a field", SMALL.replace("Do it", "x" * 200_000), "line 5, column 8, cell C5", "200,000 characters",
     "missing quotation mark"),
    ("200 KB in quotes", SMALL.replace("Do it", '"' + "x " * 100_000 + '"'), "line 5, column 8, cell C5",
     "200,000 characters", "missing quotation mark"),
    ("a long text", SMALL.replace("Do it", "x" * 4_001), "line 5, column 8, cell C5", "4,001 characters", "shorten"),
    ("a formula", SMALL.replace("Do it", "=1+1"), "line 5, column 8, cell C5", "“=1+1” is a formula", "apostrophe"),
    ("other digits", SMALL.replace("8 min", "٨ min"), "line 5, column 15, cell E5",
     "“٨ min” is not a duration", "8 min"),
    ("NUL", SMALL.replace("Do", "D\0"), "line 5, column 9", "a NUL character (U+0000)", "take it out"),
    ("a hidden direction mark", SMALL.replace("Do", "D\u202e"), "line 5, column 9",
     "text-direction mark", "take it out"),
    ("no row word", SMALL.replace("step,", ","), "line 5, column 2, cell B5", "does not say what it is", "step"),
    ("no column", SMALL + "step,a,x,,1 min,more\n", "line 6, column 17, cell F6",
     "“more” stands under no column", "column"),
    ("too many fields", SMALL + "," * 300, "line 6, column 201", "more than 200 fields", "take"),
    ("empty", "", "line 1, column 1, cell A1", "the table is empty", "row,name"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "where", "what", "remedy"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED]
)
def test_a_wrong_file_is_refused_with_place_and_remedy(text: str, where: str, what: str, remedy: str) -> None:
    found = refused(text)
    assert found[0] == where
    assert what in found[1]
    assert remedy in found[2]


SWALLOWED = {
    "rows without their empty fields": """\
row,name,text,who,takes,note,where,needs
procedure,p,Title
crew,EV1,x
task,t,Task,EV1
step,,do a,,1 min,"careful
step,,shut the isolation valve,,2 min
step,,vent the line,,3 min,slowly"
step,,do d,,4 min
""",
    "the shortest of rows": SMALL + 'tool,"wrench\ntool,hammer\ntool,saw"\n',
    "an unmarked task": SMALL.replace("P\n", '"P\nTask ,b\nx"\n'),
    "blanks behind the dividers": SMALL.replace("Do it", '"Do it\nstep, a, Shut it, , 2 min\nand so on"'),
    "a column before the kind": 'name,row,text,takes\np,procedure,P\na,task,A\n,step,"Do\n,step,it,1 s\nx",1 s\n',
}  # fmt: skip


@pytest.mark.parametrize("text", SWALLOWED.values(), ids=SWALLOWED)
def test_an_open_quotation_mark_swallows_no_row(text: str) -> None:
    _, what, remedy = refused(text)
    assert what == "whole rows stand inside this quoted field"
    assert "in the row where it opens" in remedy


ROWS = {
    "procedure": ["p", "P"], "crew": ["EV2", "Inside"], "tool": ["wrench"],
    "supply": ["air", "", "", "", "", "bar", "5.0"],
    "round": ["look", "All well?", "EV1", "", "", "", "", "10 min"], "task": ["b", "B", "EV1", "", "at the lock"],
    "step": ["", "Shut it", "", "2 min", "", "", "", "", "slowly"],
}  # fmt: skip
TOP = ["row", "name", "text", "who", "takes", "where", "unit", "reserve", "every", "note"]
FIRST = [
    ["procedure", "p", "P"],
    ["crew", "EV1", "Outside"],
    ["task", "a", "A", "EV1"],
    ["step", "", "Do", "", "8 min"],
]


@given(st.data(), st.lists(st.sampled_from([*ROWS.items()][1:]), min_size=1), st.sampled_from(",;\t"), st.booleans())
@settings(max_examples=300, deadline=None)
def test_two_stray_quotation_marks_never_lose_a_row(
    data: st.DataObject, more: list[tuple[str, list[str]]], divider: str, full: bool
) -> None:
    """Wherever they stand, in rows with their empty fields or without, as long as they are in two of them."""
    rows = [*map(list, FIRST), *([kind, *fields] for kind, fields in more)]
    rows = [row + [""] * (len(TOP) - len(row)) if full else row for row in rows]
    first = data.draw(st.integers(0, len(rows) - 2))
    second = data.draw(st.integers(first + 1, len(rows) - 1))
    opened, closed = (data.draw(st.integers(1, len(rows[each]) - 1)) for each in (first, second))
    rows[first][opened] = '"' + rows[first][opened]
    rows[second][closed] += '"'
    where, what, _ = refused("\n".join(divider.join(row) for row in [TOP, *rows]))
    assert where.startswith(f"line {first + 2}, ") or "whole rows" not in what


PROSE = st.lists(
    st.sampled_from(["Step", "task", "Tool", "crew", "then left", "rows", '"so"', "8 min", "EV1"]), min_size=1
)


@given(st.lists(PROSE.map(", ".join), min_size=2).map("\n".join), st.sampled_from(",;\t"))
@settings(max_examples=300, deadline=None)
def test_lines_of_prose_in_a_cell_are_no_rows(said: str, divider: str) -> None:
    """Though a line begins with the word for a row: behind its comma stands a blank, and it is no whole row."""
    whole = (r"tool, [^,]+", r"(task|crew), (step|task|tool|crew|rows|\"so\"|ev1)(,|$)", r"step(, [^,]*){3}, 8 min")
    assume(divider != "," or not any(re.match(each, line.lower()) for each in whole for line in said.split("\n")[1:]))
    cell = '"' + said.replace('"', '""') + '"'
    assert do(SMALL.replace(",", divider).replace("Do it", cell)) == said


@given(st.sampled_from(sorted(KINDS_OF_ROWS)), texts(), texts(), st.sampled_from(["warning", "note", "about"]))
@settings(max_examples=100, deadline=None)
def test_what_programs_write_may_hold_lines_that_look_like_rows(kind: str, one: str, two: str, where: str) -> None:
    """They write every row with its empty fields; an open quotation mark then stands in a row of full width."""
    said = f"{one}\n{kind},{two},x"
    made = read_procedure(YAML).procedure
    assert made is not None
    first = made.steps[0]
    steps = {"warning": replace(first, warning=said), "note": replace(first, note=said), "about": first}
    task = replace(made.tasks[0], steps=(steps[where], *made.tasks[0].steps[1:]))
    made = replace(made, about=said if where == "about" else "", tasks=(task, *made.tasks[1:]))
    assert sound(csv_bytes(rows_of(made))) == made


def test_a_cell_of_several_lines_may_speak_of_steps_and_tools() -> None:
    for said in (
        "Read the\nstep",
        "Bring:\ntool bag, tether",
        "Then\nsteps, tasks and tools are told\nstep by step,then",
        "Wait\nStep, then left, then right",
        "Take it\nCrew, stand clear of it",
    ):
        assert do(SMALL.replace("Do it", f'"{said}"')) == said


@pytest.mark.parametrize(("data", "what"), [
    (SMALL.replace("Do it", "é").encode("latin-1"), "may be Latin-1"), (SMALL.encode("utf-16"), "UTF-16"),
    (SMALL.encode() + b" " * 600_000, "at most 512 KB"),
])  # fmt: skip
def test_bytes_that_are_no_utf_8_are_refused(data: bytes, what: str) -> None:
    found = refused(data)
    assert what in found[1]


LONG = {
    "commas": "," * 500_000,
    "line ends": "\n" * 500_000,
    "marks": '"' * 500_000,
    "blanks": " " * 500_000,
    "many rows": SMALL + "step,a,x,,1 min\n" * 30_000,
    "wrong rows": SMALL + "stp,a,x\n" * 9_000,
    "wrong cells": SMALL + "step,a,x,EV9,8\n" * 9_000,
    "blanks in a record": SMALL.replace("takes", "record").replace("8 min", "a" + " " * 30_000 + "b" + " " * 2_000),
    "semicolons": SMALL.replace("A,EV1", "A," + "EV1;" * 8_000),
    "marks in a list": SMALL.replace("takes", "needs").replace("task,a,A,EV1", "task,a,A,EV1," + '"' * 30_000),
    "steps": SMALL + "step,a,x,,1 min\n" * 9_900,
}


@pytest.mark.parametrize("text", LONG.values(), ids=LONG)
def test_a_long_file_is_read_or_refused_in_words(text: str) -> None:
    """How long each takes: `python -m tests.bench readers`."""
    reading = read_csv(text)
    assert reading.procedure is not None or reading.faults


def test_rows_below_ten_thousand_blank_ones_are_not_lost_in_silence() -> None:
    place, what, _ = refused(SMALL + "\n" * 10_000 + "step,a,x,,1 min\n")
    assert place == "line 10002, column 1"
    assert "more than 10,000 rows" in what


def test_more_values_than_are_read_are_refused() -> None:
    names = ";".join(f"n{number}" for number in range(4_000))
    text = SMALL.replace("takes", "needs").replace("A,EV1", f"A,EV1,{names}")
    reading = read_csv(text + "".join(f"task,t{n},,,{names}\n" for n in range(12)))
    assert reading.procedure is None
    assert any("more than 30,000 values" in fault.what for fault in reading.faults)


@given(st.lists(st.sampled_from([*'",;|[]\n\r\t=', "..", "step", "row", "task,", "a", "1 min", "\ufeff"])).map("".join))
@settings(max_examples=300, deadline=None)
def test_any_text_below_a_header_is_read_or_refused(rest: str) -> None:
    for text in (SMALL + rest, SMALL.replace("Do it", rest), rest):
        reading = read_csv(text)
        assert reading.procedure is not None or all(fault.what and fault.remedy for fault in reading.faults)
        assert reading.procedure is not None or reading.faults


KINDS = [
    (SMALL.encode(), "", "csv"), (b"\xef\xbb\xbf" + SMALL.encode(), "x", "csv"), (SMALL.encode(), "x.yaml", "csv"),
    (YAML, "", "yaml"), (YAML, "x.yaml", "yaml"), (b"a,b\n", "x.CSV", "csv"), (b"a,b\n", "", "yaml"),
    (b"PK\x03\x04", "x.csv", "xlsx"), (b"<html>", "x.xlsx", "xlsx"), (b"<html>", "x.xls", "xlsx"), (b"", "", "yaml"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "", "xlsx"), (b"title: x, y\n", "", "yaml"), (b"title, y", "", "yaml"),
    (b"text;who\n", "", "csv"),
]  # fmt: skip


@pytest.mark.parametrize(("data", "name", "kind"), KINDS)
def test_a_file_is_known_by_its_content_and_name(data: bytes, name: str, kind: str) -> None:
    assert kind_of(data, name) == kind
    reading = read_file(data, name)
    assert reading.procedure is not None or reading.faults


def test_a_header_is_known_by_its_first_name() -> None:
    assert looks_like_csv("row,name")
    assert looks_like_csv('\n "Not before";x')
    assert not looks_like_csv("procedure: row,name")
