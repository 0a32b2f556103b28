"""A procedure file's faults, each with its place and its remedy, and the values that a sound file gives."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.procedure import After, Takes
from app.reading.faults import MOST_FAULTS
from app.reading.procedure_reader import MOST_CREW, read_procedure
from tests.reading.small import TOP, places, sound, with_task

SAMPLES = Path(__file__).parent.parent.parent / "procedures"


def test_the_small_file_is_sound() -> None:
    assert len(sound(TOP).steps) == 2


@pytest.mark.parametrize("key", ["procedure", "title", "tasks"])
def test_a_missing_key_of_the_file_is_one_fault_at_its_start(key: str) -> None:
    lines = TOP.splitlines(keepends=True)
    rest = lines[:5] if key == "tasks" else [line for line in lines if not line.startswith(key)]
    assert places("".join(rest)) == [(1, 1, f"the file lacks the key “{key}”")]


@pytest.mark.parametrize("tasks", ["[]", "", "x", "{a: b}"])
def test_a_file_without_tasks_is_one_fault(tasks: str) -> None:
    assert len(places("\n".join([*TOP.splitlines()[:5], f"tasks: {tasks}"]))) == 1


def test_a_file_that_is_no_mapping_is_one_fault() -> None:
    assert places("- a\n") == [(1, 1, "the file should be a mapping, not a list")]
    assert places("just text") == [(1, 1, "the file should be a mapping, not the text “just text”")]
    assert places("") == [(1, 1, "the file is empty")]


def test_names_that_cannot_be_names_are_told_once_though_others_refer_to_them() -> None:
    text = TOP.replace("task: b", "task: b c").replace("EV1", "EV 1") + "  - {task: d, after: b c, steps: []}\n"
    assert places(text.replace("steps: []", "steps: [{do: x, takes: 1 s}]")) == [
        (3, 8, "“EV 1” cannot be a name"),
        (7, 11, "“b c” cannot be a name"),
    ]


def test_a_crew_that_is_left_out_is_one_fault_and_not_one_for_each_use() -> None:
    ((line, _, what),) = places("".join(line for line in TOP.splitlines(keepends=True) if not line.startswith("crew")))
    assert (line, what) == (1, "there is no crew, and the steps name “EV1, EV2”")


def test_a_crew_may_be_left_out_when_nobody_is_named() -> None:
    assert sound("procedure: p\ntitle: P\ntasks: [{task: a, steps: [{do: x, takes: 1 min}]}]\n").crew == ()


def test_a_crew_that_is_too_large_is_one_fault() -> None:
    crew = ", ".join(f"P{number}: " for number in range(MOST_CREW + 1))
    assert places(TOP.replace("{EV1: {does: a}, EV2: {does: b}}", f"{{{crew}}}"))[0][2] == "the crew has 65 people"


def test_ids_given_twice_are_refused_at_the_second() -> None:
    assert places(with_task("title: A").replace("task: a", "task: b")) == [(9, 11, "the task “b” is there twice")]
    assert places(TOP.replace("EV2: {does: b}", "EV1: {does: b}").replace("who: EV2", "who: EV1")) == [
        (3, 24, "“EV1” is given twice, first in line 3")
    ]


def test_a_misspelt_key_is_read_as_what_was_meant_so_that_it_is_told_once() -> None:
    text = with_task("after: b").replace("task: a", "taks: a").replace("steps:\n", "setps:\n")
    assert places(text) == [(9, 5, "a task has no key “taks”"), (11, 5, "a task has no key “setps”")]


def test_all_faults_of_a_file_come_in_one_go_in_order_of_place() -> None:
    text = (
        with_task("who: EV3", "{do: x, takes: 8, count: 0}") + "  - {task: c, after: nowhere, steps: []}\nspread: 1\n"
    )
    found = places(text)
    assert [fault[:2] for fault in found] == [(10, 10), (12, 24), (12, 34), (13, 22), (13, 31), (14, 9)]


def test_structure_faults_do_not_hide_a_circle() -> None:
    text = with_task("after: c", "{do: x, takes: 8}") + "  - {task: c, after: a, steps: [{do: x, takes: 1 s}]}\n"
    found = places(text)
    assert [fault[:2] for fault in found][1:] == [(12, 24)]
    assert found[0][2].startswith("steps wait for one another in a circle")


def test_a_task_that_cannot_be_read_is_not_told_again_where_others_wait_for_it() -> None:
    assert places(TOP + "  - [x]\n  - {task: d, after: e, steps: [{do: x, takes: 1 s}]}\n") == [
        (9, 5, "an item of tasks should be a mapping, not a list")
    ]


def test_a_comma_in_braces_is_read_as_part_of_the_text_with_a_remark() -> None:
    reading = read_procedure(TOP.replace("{does: a}", "{does: Outside, left side, up}"))
    assert reading.procedure is not None
    assert reading.procedure.crew[0].does == "Outside, left side, up"
    assert [(fault.line, fault.column, fault.remark) for fault in reading.faults] == [(3, 29, True), (3, 40, True)]
    assert "quotes" in reading.faults[0].remedy


def test_a_known_key_without_a_colon_is_not_taken_for_text() -> None:
    assert (12, 17, "takes is empty") in places(with_task("title: A", "{do: x, takes, note: 1 min}"))


def test_remarks_do_not_refuse_a_file() -> None:
    reading = read_procedure(TOP + "limits: {finish: 0:01}\n")
    assert reading.procedure is not None
    ((line, column, what),) = [(fault.line, fault.column, fault.what) for fault in reading.faults]
    assert (line, column, what) == (9, 18, "the plan finishes at 00:02:00, 1m after the limit")
    assert reading.faults[0].remark


def test_a_task_carries_what_it_says_into_its_steps() -> None:
    procedure = sound(
        TOP
        + """\
  - task: a
    who: [EV1, EV2]
    after: [{step: b/2, wait: 5 min}, b/1]
    not_before: 1:00
    within: day
    steps:
      - {do: x, takes: 0 min, after: {task: b, wait: PT1M}, not_before: 0:30}
      - {do: y, takes: [1 min, 2 min, 2 min], who: EV2, not_before: 2:00:30}
      - {do: z, takes: 45 s, who: []}
"""
    )
    first, second, third = procedure.task("a").steps
    assert first.after == (After("b", 2, 300), After("b", 1), After("b", None, 60))
    assert first.not_before_s == 3600
    assert first.takes == Takes(0)
    assert (first.who, second.who, third.who) == (("EV1", "EV2"), ("EV2",), ())
    assert (second.after, second.not_before_s, second.takes) == ((), 7230, Takes(120, 60, 120))
    assert {step.within for step in (first, second, third)} == {"day"}
    assert procedure.task("a").title == "a"


def test_the_later_of_two_earliest_starts_counts() -> None:
    assert (
        sound(with_task("not_before: 1:00", "{do: x, takes: 1 s, not_before: 2:00}")).step("a/1").not_before_s == 7200
    )


def test_a_step_may_say_another_window_than_its_task() -> None:
    text = TOP.replace("windows: {", "windows: {night: [[1:00, 2:00]], ") + with_task(
        "within: day", "{do: x, takes: 1 min, within: night}"
    ).removeprefix(TOP)
    assert sound(text).step("a/1").within == "night"


def test_text_that_looks_like_another_kind_stays_text() -> None:
    procedure = sound(with_task("title: NO", "{do: 1:30:00, takes: 1 min, note: 010, caution: .nan, warning: true}"))
    step = procedure.step("a/1")
    assert (procedure.task("a").title, step.do, step.note, step.caution, step.warning) == (
        "NO", "1:30:00", "010", ".nan", "true"
    )  # fmt: skip


def test_markup_and_templates_stay_text() -> None:
    text = "<b onclick=x>{{7*7}}</b>"
    assert sound(with_task(f"title: '{text}'")).task("a").title == text


def test_a_file_with_very_many_faults_shows_the_first_and_counts_the_rest() -> None:
    reading = read_procedure(TOP + "".join(f"x{number}: 1\n" for number in range(500)))
    assert len(reading.faults) == MOST_FAULTS + 1
    assert reading.faults[-1].what == "400 more faults follow"


def test_a_fault_reads_as_one_line() -> None:
    (fault,) = read_procedure(TOP + "zeroo: x\n").faults
    assert str(fault) == "line 9, column 1: the file has no key “zeroo”; did you mean zero?"
    assert "\n" not in str(read_procedure(with_task('after: "x\\n\\ny"')).faults[0])


@pytest.mark.parametrize(
    "text",
    [
        "procedure: p\ntitle: t\ntasks:\n"
        + "".join(f"  - {{task: t{n}, after: q{n}, steps: [x]}}\n" for n in range(2500)),
        "procedure: p\ntitle: t\ntasks:\n- task: a\n  steps:\n" + "  - {do: x, takes: 1 s, after: [a]}\n" * 3300,
        TOP + "  - {task: z, after: [" + ", ".join(["b"] * 6000) + "], steps: [{do: x, takes: 1 s}]}\n",
    ],
    ids=["unknown names", "knots", "many waits"],
)  # fmt: skip
def test_a_file_made_to_cost_time_is_still_answered(text: str) -> None:
    assert read_procedure(text).faults or text.startswith(TOP)


@given(st.binary(max_size=300) | st.text(max_size=300))
def test_no_bytes_and_no_text_raise(data: bytes | str) -> None:
    reading = read_procedure(data)
    assert reading.faults
    assert all(fault.line >= 1 and fault.column >= 1 and fault.remedy for fault in reading.faults)


PIECES = [
    "",
    "\n",
    "  ",
    ": ",
    "- ",
    "[",
    "]",
    "{",
    "}",
    ", ",
    "'",
    '"',
    "&a ",
    "*a",
    "!x ",
    "0",
    "٣",
    "task",
    "null",
    "a/1",
]


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(sorted(SAMPLES.glob("*.yaml"))), st.data())
def test_no_mutation_of_a_sample_raises(path: Path, data: st.DataObject) -> None:
    text = path.read_text("utf-8")
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(text)))
        cut = data.draw(st.integers(0, 12))
        text = text[:at] + data.draw(st.sampled_from(PIECES) | st.text(max_size=3)) + text[at + cut :]
    reading = read_procedure(text)
    assert (reading.procedure is None) == any(not fault.remark for fault in reading.faults)
