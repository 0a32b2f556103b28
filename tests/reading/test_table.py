"""The notations of cells, and rows that make no sense: each a fault at its cell."""

import re

import pytest

from app.core.procedure import After, Span, Takes, Value
from app.reading.columns import BY_NAME, COLUMNS, KINDS, NAMES, Notation
from app.reading.csv_file import read_csv
from app.reading.procedure_reader import TOP_KEYS
from app.reading.task_reader import STEP_KEYS, TASK_KEYS
from app.settings import HOME

TOP = """\
row,name,text,who,after,record,needs,takes,openings,hold,worth,may_put_off,get_ahead,reserve,unit,every,spread,finish
procedure,p,P,,,,,,,,,,,,,,,
crew,EV1,
crew,EV2,
task,b,B
step,b,x,EV1,,,,1 min
step,b,y,EV2,,,,1 min
task,a,A
"""


def places(text: str) -> list[tuple[str, str]]:
    reading = read_csv(text)
    assert all(fault.remedy for fault in reading.faults)
    assert (reading.procedure is None) == any(not fault.remark for fault in reading.faults)
    return [(fault.cell, fault.what) for fault in reading.faults]


def with_step(**cells: str) -> str:
    names = TOP.partition("\n")[0].split(",")
    said = {"row": "step", "name": "a", "text": "do", "takes": "1 min"} | cells
    return TOP + ",".join('"' + said.get(name, "").replace('"', '""') + '"' for name in names) + "\n"


RECORDS = [
    ("turns [turn]", [Value("turns", "turn")]),
    ("turns [turn] 11..13", [Value("turns", "turn", 11, 13)]),
    ("gap left [mm] 2..6; gap right [mm] 0.5..", [Value("gap left", "mm", 2, 6), Value("gap right", "mm", 0.5)]),
    ("drop [kPa]..3", [Value("drop", "kPa", None, 3)]),
    ("t [°C] -5 .. -1", [Value("t", "°C", -5, -1)]),
    ('"a;b[c" ["x]y"] 1..2 ; "say ""hi""" ["""]', None),
    ('"a;b[c" ["x]y"] 1..2 ; "say ""hi""" [%]', [Value("a;b[c", "x]y", 1, 2), Value('say "hi"', "%")]),
]


@pytest.mark.parametrize(("said", "values"), RECORDS)
def test_a_record_cell_says_names_units_and_tolerances(said: str, values: list[Value] | None) -> None:
    reading = read_csv(with_step(record=said))
    assert (None if reading.procedure is None else [*reading.procedure.steps[-1].record]) == values


def test_cells_say_links_points_openings_and_people() -> None:
    text = with_step(after="b, b/2 + 90 s; b/1", takes="6 min|8 min | 14 min", who="EV2,EV1", hold="EV1")
    reading = read_csv(text.replace("task,b", "window,day,,,,,,,0:10..1:05; 1:42 .. 2:37\ntask,b"))
    assert reading.procedure is not None
    step = reading.procedure.steps[-1]
    assert step.after == (After("b"), After("b", 2, 90), After("b", 1))
    assert (step.takes, step.who, step.go) == (Takes(480, 360, 840), ("EV2", "EV1"), ("EV1",))
    assert reading.procedure.windows[0].spans == (Span(600, 3900), Span(6120, 9420))


def test_a_task_takes_its_steps_from_wherever_they_stand() -> None:
    reading = read_csv(with_step() + "step,b,z,EV1,,,,1 min\nstep,,last,EV1,,,,1 min\n")
    assert reading.procedure is not None
    assert [step.do for step in reading.procedure.task("b").steps] == ["x", "y", "z", "last"]


STEPS = [
    ({"record": "turns"}, "F9", "“turns” does not say what to record"),
    ({"record": "turns [turn] 11-13"}, "F9", "“11-13” is not a tolerance"),
    ({"record": "t [a]; t [b]"}, "F9", "the value “t” is recorded twice in one step"),
    ({"record": "t [a] 3..2"}, "F9", "“t” is to lie from 3 to 2"),
    ({"record": "t [a] x..2"}, "F9", "“x” is not a number"),
    ({"record": "t [a] .."}, "F9", "“..” is not a tolerance"),
    ({"after": "b + "}, "E9", "“b +” is not a task or step with a wait"),
    ({"after": "b + 5"}, "E9", "“5” does not say its unit"),
    ({"after": "b;;b"}, "E9", "nothing stands between two dividing signs in “b;;b”"),
    ({"after": "nowhere"}, "E9", "there is no task “nowhere”"),
    ({"takes": "1 min | 2 min"}, "H9", "takes is a list of 2"),
    ({"takes": "3 min | 2 min | 1 min"}, "H9", "3m, 2m, 1m do not rise"),
    ({"takes": "0:08"}, "H9", "“0:08” is not a duration"),
    ({"takes": ""}, "H9", "a step row lacks its takes"),
    ({"text": " "}, "C9", "a step row lacks its text"),
    ({"who": "EV3"}, "D9", "“EV3” is not in the crew"),
    ({"hold": "EV1; EV1"}, "J9", "“EV1” is named twice"),
    ({"worth": "3"}, "K9", "a step row has no worth"),
    ({"name": "c"}, "B9", "there is no task row “c”"),
    ({"row": "stp"}, "A9", "there is no kind of row “stp”"),
]


@pytest.mark.parametrize(("cells", "cell", "what"), STEPS)
def test_a_wrong_cell_of_a_step_is_one_fault_at_it(cells: dict[str, str], cell: str, what: str) -> None:
    found = [fault for fault in places(with_step(**cells)) if "has no steps" not in fault[1]]
    assert found == [(cell, what)]


ROWS = [
    ("task,c,,,,,,,,,4", [("K10", "“c” has a worth, but may not be put off")]),
    ("task,c,,,,,,,,,4,yes", [("L10", "“yes” is neither true nor false")]),
    ("task,c,,,,,\"x\"\"y;\"", [("G10", "an empty item in “x\"y;”")]),
    ("window,day", [("B10", "a window row lacks its openings")]),
    ("window,day,,,,,,,0:10", [("I10", "“0:10” is not an opening")]),
    ("window,day,,,,,,,1:10..0:10", [("I10", "an opening of “day” closes at 00:10:00, not after it opens")]),
    ("supply,gas,,,,,,,,,,,,low,bar", [("N10", "“low” is not a number")]),
    ("round,r,q,,,,,,,,,,,,,60", [("P10", "“60” does not say its unit")]),
    ("crew,EV1", [("B10", "the crew “EV1” is there twice")]),
    ("crew,EV 3", [("B10", "“EV 3” cannot be a name")]),
    ("tool,saw\ntool,saw", [("B11", "“saw” is listed twice")]),
    ("procedure,q,Q", [("A10", "there is a second procedure row")]),
    ("tool", [("A10", "a tool row lacks its name")]),
]  # fmt: skip


@pytest.mark.parametrize(("row", "faults"), ROWS)
def test_a_wrong_row_is_one_fault_at_its_cell(row: str, faults: list[tuple[str, str]]) -> None:
    found = [fault for fault in places(with_step() + row + "\n") if "has no steps" not in fault[1]]
    assert found == faults


def test_the_procedure_row_says_limit_and_spread() -> None:
    said = with_step().replace("procedure,p,P,,,,,,,,,,,,,,,", "procedure,p,P,,,,,,,,,,,,,,0.5 | 1 | 2,4:50")
    reading = read_csv(said)
    assert reading.procedure is not None
    assert reading.procedure.spread == (0.5, 1.0, 2.0)
    assert reading.procedure.limits.finish_s == 17_400
    assert places(said.replace("0.5 | 1 | 2", "1 | 2")) == [("Q2", "spread has 2 factors")]


def test_a_table_without_a_procedure_row_is_one_fault() -> None:
    assert places(with_step().replace("procedure,p,P,,,,,,,,,,,,,,,\n", "")) == [("A1", "there is no procedure row")]


def test_a_wrong_header_is_told_alone() -> None:
    assert places(with_step().replace("takes", "tekes")) == [("H1", "there is no column “tekes”")]
    assert places(with_step().replace("takes", "text")) == [("H1", "the column text is there twice")]
    assert places(with_step().replace("row,", "kind,")) == [("A1", "there is no column “kind”")]
    assert places(with_step().replace("row,name", ",name")) == [("B1", "the column row is missing")]


def test_a_step_above_every_task_is_told() -> None:
    text = TOP.replace("task,b,B\n", "").replace("step,b,x", "step,,x").replace("step,b,y", "step,,y")
    assert ("A5", "no task stands above this step") in places(text)


def test_every_key_of_a_yaml_file_has_its_column() -> None:
    """A field that is added to the files is missed here until the table has it."""
    renamed = {"procedure": "name", "title": "text", "task": "name", "do": "text", "tools": "name", "steps": "row"}
    renamed |= {"crew": "row", "windows": "openings", "supplies": "unit", "rounds": "every", "tasks": "row"}
    renamed |= {"limits": "finish"}
    for key in (*TOP_KEYS, *TASK_KEYS, *STEP_KEYS):
        assert renamed.get(key, key) in NAMES, key
    for key in STEP_KEYS:
        assert "step" in BY_NAME[renamed.get(key, key)].meaning
    for key in TASK_KEYS:
        assert "task" in BY_NAME[renamed.get(key, key)].meaning


def test_every_column_says_what_it_holds_and_how() -> None:
    assert len(set(NAMES)) == len(COLUMNS)
    for column in COLUMNS:
        assert column.meaning
        assert set(column.meaning) <= set(KINDS)
        assert all(column.meaning.values())
        assert column.required <= set(column.meaning)
    assert {column.notation for column in COLUMNS} == set(Notation)


def test_the_readme_has_a_line_for_each_column_in_their_order() -> None:
    section = (HOME / "README.md").read_text("utf-8").partition("### The same as a table")[2].partition("\n## ")[0]
    assert re.findall(r"^\| `([a-z_]+)` \|", section, re.M) == list(NAMES)
