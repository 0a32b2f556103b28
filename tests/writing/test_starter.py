"""The starter file: sound as it stands and with all of it switched on, and each field of a procedure is explained."""

import re
from dataclasses import replace

import pytest

from app.core.procedure import Takes
from app.reading.procedure_reader import TOP_KEYS, read_procedure
from app.reading.task_reader import STEP_KEYS, TASK_KEYS
from app.writing.revise import revised
from app.writing.starter import DEFAULT_PEOPLE, starter

NEAR = 7
"""Lines above a field in which what explains it begins: fields of one kind are explained together."""
CREWS = [("EV1", "GROUND"), DEFAULT_PEOPLE, tuple(f"P{number}" for number in range(12))]


def switched_on(text: str) -> str:
    """The file with each field on that was switched off, as an editor does it."""
    return re.sub(r"(?m)^( *)# ", r"\1", text)


@pytest.mark.parametrize("crew", CREWS, ids=len)
def test_the_starter_is_sound_as_it_stands_and_with_every_field_switched_on(crew: tuple[str, ...]) -> None:
    text = starter("first-outing", 'He said "go": now, \\ and # more', crew)
    for each in (text, switched_on(text)):
        reading = read_procedure(each)
        assert not reading.faults
        assert reading.procedure is not None
        assert reading.procedure.title == 'He said "go": now, \\ and # more'
        assert tuple(person.designator for person in reading.procedure.crew) == crew
    assert switched_on(text) != text


def _blocks(text: str) -> list[str]:
    """Each run of lines that is switched off, with one top field that other fields need left on beside it."""
    return re.findall(r"(?m)(?:^ *# .*\n)+", text)


@pytest.mark.parametrize("number", range(len(_blocks(starter("a", "A")))))
def test_each_part_that_is_switched_off_can_be_switched_on_with_those_that_it_names(number: int) -> None:
    text = starter("a", "A")
    named = [each for each in _blocks(text) if each.startswith(("# windows", "# tools"))]
    for each in {_blocks(text)[number], *named}:
        text = text.replace(each, switched_on(each))
    assert not read_procedure(text).faults


def test_every_field_of_a_procedure_stands_in_the_starter_under_a_line_that_explains() -> None:
    text = starter("first-outing", "First outing")
    tasks = text[text.index("\ntasks:\n") :]
    for key in TOP_KEYS:
        assert re.search(rf"(?m)^##.*\n(?:# )?{key}:", text), f"nothing explains {key}"
    for key in (*TASK_KEYS, *STEP_KEYS):
        first = re.search(rf"(?m)^ +(?:# *)?(?:- )?{key}:", tasks)
        assert first, f"{key} is not shown"
        assert "##" in "".join(tasks[: first.start()].splitlines(keepends=True)[-NEAR:]), f"nothing explains {key}"


def test_the_comments_outlive_new_durations() -> None:
    text = starter("first-outing", "First outing")
    made = revised(text, {"go-out/2": Takes(420)})
    assert [line for line in made.text.splitlines() if "#" in line] == [
        line for line in text.splitlines() if "#" in line
    ]
    old = read_procedure(text).procedure
    assert old is not None
    assert replace(old, tasks=()) == replace(made.procedure, tasks=())
    assert made.procedure.step("go-out/2").takes.likely_s == 420
