"""Durations written back into a procedure's text: what is asked for changes, and nothing else, to the byte."""

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.core.procedure import Procedure, Takes
from app.reading.procedure_reader import read_procedure
from app.reading.yaml_spans import scalar_spans
from app.settings import HOME
from app.writing.revise import NotRevised, _with, difference, revised
from app.writing.yaml_file import yaml_text
from tests.writing.full import full_procedures

SAMPLES = sorted((HOME / "procedures").glob("*.yaml"))
THREE = Takes(600, 480, 960)

TEXT = """\
# A mast: two people.
procedure: mast
title: "Raise the mast"   # in quotes
crew: {EV1: {does: Left}, EV2: {does: "Right, below"}}
tasks:
  - task: rig
    who: EV1

    steps:
      # The first thing of all.
      - {do: Open the box,   takes: 8 min}   # as it was last year
      - do: 'Set it; lift it: 漢 🚀'
        takes:   [ 4 min,'PT5M' ,   "9 min" ]   # three of them
        note: |
          takes: 3 min
      - do: Lower it
        takes:
          - 1 min    # at best
          - 2 min
          - 5 min
      - takes: "12 min"
        do: >-
          Fold
          it
"""


def sound(text: str) -> Procedure:
    reading = read_procedure(text)
    assert reading.procedure is not None, reading.faults
    return reading.procedure


def test_one_duration_becomes_three_and_all_else_stays_to_the_byte() -> None:
    assert revised(TEXT, {"rig/1": THREE}).text == TEXT.replace("takes: 8 min}", "takes: [8 min, 10 min, 16 min]}")


def test_of_three_each_is_edited_in_its_place_and_keeps_its_quotes_and_comments() -> None:
    new = revised(TEXT, {"rig/2": THREE, "rig/3": Takes(150, 75, 300)}).text
    wanted = TEXT.replace(
        """[ 4 min,'PT5M' ,   "9 min" ]""", """[ 8 min,'10 min' ,   "16 min" ]"""
    ).replace(
        "- 1 min    # at best\n          - 2 min\n", "- 1 min 15 s    # at best\n          - 2 min 30 s\n"
    )  # fmt: skip
    assert new == wanted


def test_a_quoted_duration_that_becomes_three_loses_its_quotes() -> None:
    assert 'takes: [8 min, 10 min, 16 min]\n        do: >-' in revised(TEXT, {"rig/4": THREE}).text  # fmt: skip


def test_what_is_asked_for_is_what_the_new_text_says() -> None:
    made = revised(TEXT, {"rig/1": THREE, "rig/4": THREE})
    assert sound(made.text) == made.procedure
    assert [step.takes for step in made.procedure.steps][0::3] == [THREE, THREE]
    assert [step.takes for step in made.procedure.steps][1:3] == [step.takes for step in sound(TEXT).steps][1:3]


def test_nothing_asked_for_changes_nothing() -> None:
    assert revised(TEXT, {}).text == TEXT
    assert revised(TEXT, {"rig/1": Takes(480)}).text == TEXT
    assert difference(TEXT, TEXT, "a", "b") == ""


def test_lines_may_end_as_on_other_systems() -> None:
    text = TEXT.replace("\n", "\r\n")
    assert revised(text, {"rig/1": THREE}).text == text.replace("8 min}", "[8 min, 10 min, 16 min]}")


@pytest.mark.parametrize("end", ["", "\n", "\n# the end", "\n\n\n"])
def test_the_end_of_the_file_stays_as_it_is(end: str) -> None:
    text = TEXT[: TEXT.index("      - takes")].rstrip("\n") + end
    last = Takes(120, 60, 600)
    assert revised(text, {"rig/3": last}).text == text.replace("- 5 min", "- 10 min")


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_in_the_samples_only_the_lines_of_durations_differ(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    steps = [step for step in sound(text).steps if step.within is None]
    made = revised(text, {step.id: Takes(600, 540, 660 + place) for place, step in enumerate(steps)})
    was, now = text.split("\n"), made.text.split("\n")
    assert len(was) == len(now)
    changed = [(old, new) for old, new in zip(was, now, strict=True) if old != new]
    assert len(changed) == len(steps)
    for old, new in changed:
        at = old.index("takes:")
        assert new.startswith(old[: at + 6])
        assert old.count("#") == new.count("#")


@given(full_procedures(), st.data())
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
def test_any_procedure_takes_any_durations(made: Procedure, data: st.DataObject) -> None:
    text = yaml_text(made)
    shorter = st.integers(1, 10_000)
    wanted = {}
    for step in made.steps:
        if data.draw(st.booleans()):
            low = data.draw(shorter)
            likely = low if step.within is None else min(step.takes.likely_s, low)
            wanted[step.id] = Takes(likely, min(low, likely), likely + data.draw(shorter))
    again = read_procedure(yaml_text(_with(made, wanted)))
    if again.procedure is None:  # Such as work that no longer ends before a window closes.
        with pytest.raises(NotRevised, match="a fault"):
            revised(text, wanted)
        return
    new = revised(text, wanted)
    assert [step.takes for step in new.procedure.steps] == [wanted.get(step.id, step.takes) for step in made.steps]
    assert replace(new.procedure, tasks=()) == replace(made, tasks=())


def test_the_difference_is_one_to_review() -> None:
    text = "\n".join(difference(TEXT, revised(TEXT, {"rig/1": THREE}).text, "was", "now").split("\n")[:2])
    assert text == "--- was\n+++ now"
    lines = difference(TEXT, revised(TEXT, {"rig/1": THREE}).text, "was", "now").split("\n")
    assert [line for line in lines[2:] if line[:1] in "+-" and line] == [
        "-      - {do: Open the box,   takes: 8 min}   # as it was last year",
        "+      - {do: Open the box,   takes: [8 min, 10 min, 16 min]}   # as it was last year",
    ]


def test_a_duration_that_would_be_a_fault_is_refused_with_it() -> None:
    text = TEXT.replace("tasks:", "windows: {day: [[0:00, 1:00]]}\ntasks:").replace("who: EV1", "who: EV1, within: day")
    text = text.replace("    who: EV1, within: day", "    who: EV1\n    within: day")
    with pytest.raises(NotRevised, match="longer than any opening") as refused:
        revised(text, {"rig/1": Takes(7200, 7200, 7200)})
    assert [fault.remark for fault in refused.value.faults] == [False]
    with pytest.raises(NotRevised, match="do not rise"):
        revised(text, {"rig/1": Takes(600, 700, 800)})


@pytest.mark.parametrize("block", ["|\n          8 min", ">-\n          8 min"])
def test_a_duration_that_stands_as_a_block_is_told_and_not_guessed(block: str) -> None:
    text = TEXT.replace(
        "- {do: Open the box,   takes: 8 min}   # as it was last year", f"- do: Open the box\n        takes: {block}"
    )
    assert sound(text).steps[0].takes == Takes(480)
    with pytest.raises(NotRevised, match="rig/1 stands in the text as a block"):
        revised(text, {"rig/1": THREE})


def test_a_step_that_is_not_there_and_a_text_with_faults_are_refused() -> None:
    with pytest.raises(NotRevised, match="no step rig/9"):
        revised(TEXT, {"rig/9": THREE})
    with pytest.raises(NotRevised, match="faults of its own"):
        revised(TEXT.replace("title:", "tilte:"), {"rig/1": THREE})
    with pytest.raises(NotRevised, match="can't be given one"):
        revised(TEXT, {"rig/2": Takes(60)})


def test_a_scalar_is_found_by_its_place_in_the_tree() -> None:
    spans = scalar_spans(TEXT)
    found = {path: TEXT[span.begin : span.end] for path, span in spans.items()}
    assert found["title",] == '"Raise the mast"'
    assert found["crew", "EV2", "does"] == '"Right, below"'
    assert found["tasks", 0, "steps", 1, "takes", 1] == "'PT5M'"
    assert spans["tasks", 0, "steps", 1, "note"].style == "|"
