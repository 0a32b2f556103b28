"""The printed schema takes what the reader takes in form, and refuses what the reader refuses in form."""

from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML

from app.reading.procedure_reader import TOP_KEYS, read_procedure
from app.reading.schema import schema
from app.reading.task_reader import STEP_KEYS, TASK_KEYS

SAMPLES = sorted((Path(__file__).parent.parent.parent / "procedures").glob("*.yaml"))
VALIDATOR = Draft202012Validator(schema())

TOP = """\
procedure: small
title: Small
crew: {EV1: {does: a}, EV2: }
tasks:
  - task: b
    steps: [{do: x, takes: 1 min, who: EV1}, {do: y, takes: 1 min, who: EV2}]
"""


def as_values(text: str) -> Any:
    return YAML(typ="safe", pure=True).load(text)


def test_the_schema_is_a_schema() -> None:
    Draft202012Validator.check_schema(schema())


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_the_samples_hold_to_the_schema(path: Path) -> None:
    assert list(VALIDATOR.iter_errors(as_values(path.read_text("utf-8")))) == []


def test_the_schema_knows_the_keys_that_the_reader_knows() -> None:
    made = schema()
    assert tuple(sorted(made["properties"])) == tuple(sorted(TOP_KEYS))
    assert set(made["$defs"]["task"]["properties"]) == set(TASK_KEYS)
    assert set(made["$defs"]["step"]["properties"]) == set(STEP_KEYS)


def test_every_part_has_a_title_or_points_to_one_that_has() -> None:
    made = schema()
    for name in ("task", "step", "value"):
        for key, part in made["$defs"][name]["properties"].items():
            assert part.get("title") or made["$defs"][part["$ref"].removeprefix("#/$defs/")]["title"], key


TAKEN = [
    TOP,
    TOP + "  - {task: 12, after: b, who: , title: 42, steps: [{do: 5, takes: 0 min, after: {step: b/1}}]}\n",
    TOP + "  - {task: c, after: [b, b/2, {task: b, wait: PT5M}], not_before: 1:00, needs: saw,"
    " steps: [{do: x, takes: [1 s, 2 s, 1 h 5 min]}]}\n",
    TOP + "  - {task: c, may_put_off: true, worth: 1,"
    " steps: [{do: x, takes: P1D, hold: {go: EV1}, record: {a: {unit: m, to: -1.5}}}]}\n",
    TOP + "limits: {}\nwindows: {w: [[0:10, 123:00:59]]}\nspread: [0.5, 1, 2]\non_plan_within: 90 s\nget_ahead: {}\n",
]  # fmt: skip


@pytest.mark.parametrize("text", TAKEN)
def test_what_the_reader_takes_the_schema_takes(text: str) -> None:
    assert read_procedure(text).faults == ()
    assert list(VALIDATOR.iter_errors(as_values(text))) == []


def with_task(keys: str, step: str = "{do: x, takes: 1 min}") -> str:
    return f"{TOP}  - task: a\n    {keys}\n    steps: [{step}]\n"


REFUSED = [
    "- a\n",
    TOP.replace("procedure: small\n", ""),
    TOP.replace("title: Small\n", ""),
    TOP.replace("small", "sm all"),
    TOP.replace("EV1: {does: a}", "EV 1: {does: a}"),
    TOP.replace("does: a", "dose: a"),
    TOP + "zeroo: x\n",
    TOP + "spread: [1, 2]\n",
    TOP + "spread: [1, x, 2]\n",
    TOP + "on_plan_within: 60\n",
    TOP + "get_ahead: true\n",
    TOP + "limits: {finish: 450}\n",
    TOP + "windows: {day: [0:10, 1:05]}\n",
    TOP + "windows: {day: []}\n",
    TOP + "supplies: [{supply: gas, reserve: 1}]\n",
    TOP + "rounds: [{round: r, asks: q, every: 60}]\n",
    "procedure: p\ntitle: t\ntasks: []\n",
    "procedure: p\ntitle: t\ntasks: {a: b}\n",
    with_task("colour: red"),
    with_task("not_before: 1:90"),
    with_task("not_before:"),
    with_task("get_ahead: 'true'"),
    with_task("may_put_off: yes\n    worth: 3"),
    with_task("may_put_off: true\n    worth: 10"),
    with_task("worth: 3"),
    with_task("may_put_off: true"),
    with_task("after: b/0"),
    with_task("after: [{wait: 1 min}]"),
    with_task("after: [{task: b, step: b/1}]"),
    with_task("after: [{task: b/1}]"),
    with_task("after: [{step: b}]"),
    with_task("after: [{task: b, wait: 5}]"),
    with_task("who: {EV1: EV2}"),
    *(
        with_task("title: A", step)
        for step in (
            "x", "{do: x}", "{takes: 1 min}", "{do: , takes: 1 min}", "{do: x, takes: 8}", "{do: x, takes: 010}",
            '{do: x, takes: "8"}', "{do: x, takes: 1 min 1 h}", "{do: x, takes: [1 min, 2 min]}", "{do: x, takes: P}",
            "{do: x, takes: PT}", "{do: x, takes: P1M}", "{do: x, takes: 1 min, count: 0}", "{do: x, takes: ''}",
            "{do: x, takes: 1 min, count: 2.5}", "{do: x, takes: 1 min, hold: EV1}", "{do: x, takes: 1 min, hold: {}}",
            "{do: x, takes: 1 min, hold: {go: []}}", "{do: x, takes: 1 min, record: {p: {from: 1}}}",
            "{do: x, takes: 1 min, record: {p: {unit: m, from: low}}}", "{do: x, takes: 1 min, note: [x]}",
        )
    ),
]  # fmt: skip


@pytest.mark.parametrize("text", REFUSED)
def test_what_the_reader_refuses_in_form_the_schema_refuses(text: str) -> None:
    assert read_procedure(text).procedure is None
    assert list(VALIDATOR.iter_errors(as_values(text)))
