"""A procedure that is written as a table and read again is the same procedure."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from app.core.procedure import Procedure, Supply, Value
from app.reading.csv_file import read_csv
from app.reading.files import Kind, kind_of, read_file
from app.reading.procedure_reader import read_procedure
from app.reading.xlsx_file import read_xlsx
from app.settings import HOME
from app.writing.csv_file import csv_bytes
from app.writing.files import NoTable, written
from app.writing.table import rows_of
from app.writing.xlsx_file import xlsx_bytes
from tests.core.building import procedure, step, task
from tests.reading.small import TOP, sound, with_task
from tests.writing.full import full_procedures

SAMPLES = sorted((HOME / "procedures").glob("*.yaml"))
TABLES: tuple[Kind, ...] = ("csv", "xlsx")

WAYS: dict[str, Callable[[Procedure], Procedure | None]] = {
    "csv": lambda made: read_csv(csv_bytes(rows_of(made))).procedure,
    "xlsx": lambda made: read_xlsx(xlsx_bytes(rows_of(made))).procedure,
}


@given(full_procedures())
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
def test_any_procedure_survives_csv(made: Procedure) -> None:
    assert WAYS["csv"](made) == made


@given(full_procedures())
@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
def test_any_procedure_survives_a_workbook(made: Procedure) -> None:
    assert WAYS["xlsx"](made) == made


@pytest.mark.parametrize("kind", TABLES)
@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_the_samples_survive(path: Path, kind: Kind) -> None:
    made = read_procedure(path.read_bytes()).procedure
    assert made is not None
    data = written(made, kind)
    assert kind_of(data) == kind
    assert read_file(data).procedure == made


TASKS = [
    ("who: [EV1, EV2]\n    not_before: 1:00\n    within: day", "{do: x, takes: 1 min, not_before: 0:30}"),
    ("who: EV1\n    not_before: 0:30\n    after: b", "{do: x, takes: 1 min, not_before: 1:00:30, after: [b, b/2]}"),
    ("who: EV1", "{do: x, takes: 1 min, who: []}"),
    ("who: []", "{do: x, takes: 1 min, who: EV1, within: day}"),
    ("after: [{step: b/2, wait: 90 s}, {task: b, wait: PT1H}]", "{do: x, takes: 9999 h}"),
    ("needs: [saw, file]\n    where: '-'", "{do: '~', takes: 1 s, note: 'null', warning: 'true'}"),
]


@pytest.mark.parametrize("way", WAYS.values(), ids=WAYS)
@pytest.mark.parametrize(("keys", "steps"), TASKS)
def test_what_a_task_gives_its_steps_is_told_from_what_they_have(
    keys: str, steps: str, way: Callable[[Procedure], Procedure | None]
) -> None:
    made = sound(with_task(keys, steps))
    assert way(made) == made


RISKY = ["=1+1", "+1", "-1", "@x", "'=1", "''=1", "'-x", "'x", "＝1", "=\r\n1", "- see to it", "@\t"]


@pytest.mark.parametrize("way", WAYS.values(), ids=WAYS)
@pytest.mark.parametrize("text", RISKY)
def test_a_text_that_looks_like_a_formula_comes_back_as_it_was(
    text: str, way: Callable[[Procedure], Procedure | None]
) -> None:
    text = text.strip()
    made = procedure(task("a", [step(60, text)]))
    again = way(made)
    assert again == made
    assert again.tasks[0].steps[0].do == text


@pytest.mark.parametrize("way", WAYS.values(), ids=WAYS)
@pytest.mark.parametrize("number", [26.720915939874985, -1036.8188938843805, 1e-15, 123456789012345.0, -0.0, 0.3])
def test_a_number_comes_back_to_its_last_digit(number: float, way: Callable[[Procedure], Procedure | None]) -> None:
    made = procedure(task("a", [step(60, record=(Value("gap", "mm", number),))]))
    made = replace(made, supplies=(Supply("gas", (), "bar", number),))
    assert way(made) == made


def test_a_text_that_holds_a_row_of_the_table_is_refused_and_not_changed() -> None:
    row = "step" + "," * 40
    made = procedure(task("a", [step(60, f"x{',' * 40}\n{row}")]))
    with pytest.raises(NoTable, match="whole rows stand inside"):
        written(made, "csv")
    assert read_file(written(made, "xlsx")).procedure == made


def test_a_list_that_no_cell_holds_is_refused_in_words() -> None:
    made = procedure(task("a"), *(task(f"{number:064}", after=["a"]) for number in range(600)))
    last = task("z", after=[each.id for each in made.tasks])
    with pytest.raises(NoTable, match="longest cell"):
        written(procedure(*made.tasks, last), "csv")


def test_a_table_of_a_small_file_has_a_row_for_each_thing() -> None:
    rows = rows_of(sound(TOP))
    assert [row["row"] for row in rows] == [
        "procedure", "crew", "crew", "window", "tool", "tool", "task", "step", "step",
    ]  # fmt: skip
