"""What a run leaves becomes the next outing's procedure, and says what was done already."""

from dataclasses import replace

import pytest

from app.core.carry import carried_over
from app.core.carry_notes import LONGEST_HISTORY, LONGEST_TEXT, NO_OPENING, SHORTENED, Source, clean
from app.core.events import (
    NoteAdded,
    StartRecorded,
    StepAdded,
    StepMarked,
    StepNotNeeded,
    TakesRevised,
    TasksPutOff,
)
from app.core.events_progress import ActionsDone, CompletionCalled
from app.core.next_outing import LONGEST_ID, next_outing
from app.core.procedure import After, Supply, Takes, Value
from app.core.situation import Prepared, Situation
from app.reading.characters import forbidden_in
from app.reading.spots import ID
from app.reading.yaml_tree import LONGEST_TEXT as LONGEST_READ
from tests.core.building import procedure, step, task
from tests.core.leaving import FROM, after, left, mast, note, one

# The shape


def test_steps_are_numbered_anew_and_links_follow_them() -> None:
    rig = task("rig", [step(60), step(60), step(60)], who=("EV1",))
    wire = task("wire", [step(60)], who=("EV2",), after=(After("rig", 2, 30),))
    found = left(procedure(rig, wire, crew=("EV1", "EV2")), StepMarked("rig/1"))
    assert [each.number for each in found.task("rig").steps] == [1, 2]
    assert found.task("wire").after == found.step("wire/1").after == (After("rig", 1, 30),)


def test_it_is_called_after_its_run_and_keeps_what_still_makes_sense() -> None:
    made = replace(
        mast(),
        id="mast",
        title="Mast",
        about="Far side.",
        supplies=(Supply("gas", ("EV1",), "%", 10),),
        tools=("saw",),
        spread=(0.5, 1, 2),
        limits=replace(mast().limits, finish_s=9000),
    )
    found = left(made, StepMarked("rig/1"))
    assert (found.id, found.title) == ("mast-carried", "Mast, carried over from run 7")
    assert found.about == "What run 7 of mast left. Far side."
    assert (found.crew, found.limits, found.supplies, found.tools, found.spread) == (
        made.crew, made.limits, made.supplies, made.tools, made.spread,
    )  # fmt: skip


def test_what_was_carried_twice_does_not_grow_its_name() -> None:
    once = left(replace(mast(), id="mast", title="Mast"), StepMarked("rig/1"))
    twice = left(once, StepMarked("rig/1"))
    assert (twice.id, twice.title) == ("mast-carried", "Mast, carried over from run 7")


@pytest.mark.parametrize("name", ["a" * 64, "a" * 56 + "-carried", "-carried"[1:]])
def test_its_id_is_one(name: str) -> None:
    found = left(replace(mast(), id=name), StepMarked("rig/1"))
    assert ID.fullmatch(found.id)
    assert len(found.id) <= LONGEST_ID
    assert found.id.endswith("-carried")


def test_a_title_and_an_account_of_any_length_still_fit() -> None:
    found = left(replace(mast(), title="t" * LONGEST_TEXT, about="a" * LONGEST_TEXT), StepMarked("rig/1"))
    assert max(len(found.title), len(found.about)) <= LONGEST_TEXT
    assert found.title.endswith(f"{SHORTENED}, carried over from run 7")
    assert found.about.endswith(SHORTENED)


def test_the_close_out_stands_at_the_end_whole_though_it_was_done() -> None:
    found = left(mast(), StepMarked("rig/1"), StepMarked("home/1"))
    assert [each.id for each in found.tasks] == ["rig", "home"]
    assert found.limits.close_out == "home"
    assert found.task("home").after == (After("rig"),)


def test_the_close_out_waits_for_what_is_left_behind_work_that_is_not_needed() -> None:
    one_, two = task("one", [60], who="EV1"), task("two", [60], who="EV2", after=["one"])
    home = task("home", [60, step(60, after=[After("two", 1, 30)])], who="EV1")
    found = left(procedure(one_, two, home, close_out="home"), StepNotNeeded("two/1", "seen already"))
    assert [each.id for each in found.tasks] == ["one", "home"]
    assert found.step("home/2").after == (After("one", None, 30),)


def test_the_close_out_drops_its_own_earliest_start_and_says_so() -> None:
    home = task("home", [step(60, not_before_s=3600)], who=("EV1",))
    found = left(procedure(task("rig"), home, crew=("EV1",), close_out="home"))
    assert found.step("home/1").not_before_s == 0
    assert found.step("home/1").note == "In run 7 of mast: it was not to begin before 01:00:00 of that outing's clock."


def test_nothing_owed_is_no_file() -> None:
    done = (StepMarked(f"rig/{number}") for number in (1, 2, 3))
    assert next_outing(mast(), after(*done), FROM) is None


def test_an_added_step_is_carried_too() -> None:
    added = StepAdded("added-1", "Tape\x07 the\nglove", ("EV2",), 120, (("rig", None),), (), "cut")
    found = left(mast(), added)
    assert [each.id for each in found.tasks] == ["rig", "added-1", "home"]
    assert (found.task("added-1").title, found.step("added-1/1").do) == ("Tape the glove", "Tape the glove")
    assert found.step("added-1/1").after == (After("rig"),)


def test_tasks_that_wait_for_one_another_step_by_step_stay_in_the_order_of_the_file() -> None:
    """With B first, EV1 would do b2 before a1, and b2 waits for a1."""
    a = task("a", [step(60, who="EV1"), step(60, who="ARM", after=["b/1"])])
    b = task("b", [step(60, who="EV2"), step(60, who="EV1", after=["a/1"])])
    made = procedure(a, b)
    assert [each.id for each in carried_over(made, after(StartRecorded("a/1")))] == ["a", "b"]
    found = left(made, StartRecorded("a/1"))
    assert [each.id for each in found.tasks] == ["a", "b"]


# Windows


def test_only_windows_that_are_needed_are_kept() -> None:
    rig = task("rig", [step(60, within="day")], who=("EV1",))
    paint = task("paint", [step(60, within="pass")], who=("EV1",))
    made = procedure(rig, paint, windows={"day": [(0, 999)], "pass": [(0, 999)]})
    assert [each.name for each in left(made, StepMarked("rig/1")).windows] == ["pass"]


def test_a_step_that_no_opening_is_left_for_loses_its_window_and_says_so() -> None:
    """Put off work stands at the end of the list: there the opening is over."""
    early = task("early", [step(60, within="dawn"), step(60)], who=("EV1",), within=None, may_put_off=True)
    rig = task("rig", [600], who=("EV1",))
    made = procedure(early, rig, windows={"dawn": [(0, 300)]})
    found = left(made, TasksPutOff(("early",), "fog"))
    assert (found.step("early/1").within, found.windows) == (None, ())
    assert found.step("early/1").note == (
        f"It is to be done within “dawn”, but {NO_OPENING}: set the window anew.\nPut off in run 7 of mast: fog."
    )


def test_the_other_steps_of_such_a_task_keep_its_window() -> None:
    late = task("late", [600, 10], who=("EV1",), within="day", may_put_off=True)
    rig = task("rig", [300], who=("EV1",))
    made = procedure(late, rig, windows={"day": [(0, 650), (900, 950)]})
    found = left(made, TasksPutOff(("late",), "fog")).task("late")
    assert (found.within, [each.within for each in found.steps]) == (None, [None, "day"])


# Notes


def test_what_was_done_is_noted_before_what_the_note_said() -> None:
    turns = replace(step(60), record=(Value("turns", "turn", 11, 13),))
    made = one(turns, replace(step(60), note="Mind the gap."))
    assert note(made, StepMarked("rig/1", (("turns", 12.0),))) == (
        "Done before, run 7 of mast: step 1 “Do rig 1” at 00:01:00: turns 12 turn.\nMind the gap."
    )


def test_what_an_earlier_run_had_done_is_still_noted() -> None:
    once = left(one(60, 60, replace(step(60), note="Mind the gap.")), StepMarked("rig/1"))
    now = Situation(Prepared(once), after(StepMarked("rig/1")), 60)
    twice = next_outing(now.procedure, now.state, Source(9, "mast-carried"))
    assert twice is not None
    assert twice.steps[0].note.splitlines() == [
        "Done before, run 9 of mast-carried: step 1 “Do rig 2” at 00:01:00.",
        "Done before, run 7 of mast: step 1 “Do rig 1” at 00:01:00.",
        "Mind the gap.",
    ]


def test_a_step_that_was_counted_in_part_carries_what_is_left() -> None:
    made = one(replace(step(60), count=8))
    found = left(made, ActionsDone("rig/1", 1, 5)).steps[0]
    assert found.count == 3
    assert found.note == "In run 7 of mast: 5 of 8 done by 00:01:00, and “takes” is still that of all 8."
    for done in (7, 8):
        last = left(made, ActionsDone("rig/1", 1, done)).steps[0]
        assert last.count is None
        assert f"{done} of 8 done" in last.note


def test_a_step_that_nobody_counted_keeps_its_count_whatever_it_is() -> None:
    assert left(one(replace(step(60), count=1))).steps[0].count == 1


def test_why_it_was_put_off_and_what_was_not_needed_are_noted() -> None:
    made = one(60, 60, may_put_off=True)
    assert note(made, StepNotNeeded("rig/1", "clean already"), TasksPutOff(("rig",), "rain")) == (
        "Done before, run 7 of mast: step 1 “Do rig 1” was not needed (clean already).\nPut off in run 7 of mast: rain."
    )


def test_how_far_an_open_step_was_and_what_was_noted_at_it_is_noted() -> None:
    gap = replace(step(60), record=(Value("gap", "mm", 2, 6),))
    events = (
        StartRecorded("rig/1"), CompletionCalled("rig/1", (("gap", 9.0),)), TakesRevised("rig/1", 150, "stiff"),
        NoteAdded("The rail is bent", "rig/1"),
    )  # fmt: skip
    assert note(one(gap), *events) == (
        "In run 7 of mast: begun at 00:01:00 and not finished; called complete at 00:02:00: "
        "gap 9 mm (OUT OF TOLERANCE), but that was left open; "
        "2m 30s was counted on, and “takes” is still the procedure's.\n"
        "Noted in run 7 of mast at 00:04:00: The rail is bent."
    )


def test_a_revised_duration_is_told_and_the_three_points_of_the_file_are_kept() -> None:
    three = replace(step(60), takes=Takes(60, 30, 120))
    assert left(one(three), TakesRevised("rig/1", 600, "stiff")).steps[0].takes == Takes(60, 30, 120)


def test_an_earliest_start_of_the_old_clock_is_dropped_and_said_at_its_step() -> None:
    found = left(one(60, step(60, not_before_s=3600)))
    assert [each.not_before_s for each in found.steps] == [0, 0]
    assert [each.note for each in found.steps] == [
        "", "In run 7 of mast: it was not to begin before 01:00:00 of that outing's clock.",
    ]  # fmt: skip


def test_work_that_came_after_the_close_out_says_so() -> None:
    suits = task("suits", [60], who=("EV2",), after=["home"])
    made = replace(mast(), tasks=(*mast().tasks, suits))
    found = left(made)
    assert [each.id for each in found.tasks] == ["rig", "suits", "home"]
    assert found.step("suits/1").note == "In run 7 of mast: it was to come after home."
    home = [StepMarked(each.id) for each in mast().steps]
    assert note(made, *home) == ""


def test_a_long_history_is_cut_and_says_so_and_the_note_itself_stays_whole() -> None:
    steps = [replace(step(60), do="x" * 79) for _ in range(60)]
    made = one(*steps, replace(step(60), note="Mind the gap."))
    said = note(made, *(StepMarked(f"rig/{number}") for number in range(1, 61)))
    history, own = said.rsplit("\n", 1)
    assert (len(history), own) == (LONGEST_HISTORY, "Mind the gap.")
    assert history.endswith(SHORTENED)


def test_a_note_that_was_full_is_cut_so_that_it_all_fits() -> None:
    said = note(one(60, replace(step(60), note="n" * LONGEST_TEXT)), StepMarked("rig/1"))
    assert len(said) == LONGEST_TEXT
    assert said.startswith("Done before, run 7 of mast: step 1 “Do rig 1” at 00:01:00.\nnnn")
    assert said.endswith(SHORTENED)


def test_the_bound_of_a_text_is_the_readers() -> None:
    assert LONGEST_TEXT == LONGEST_READ


def test_no_sign_that_a_file_refuses_is_left_in_typed_words() -> None:
    for first in range(0, 0x11000, 64):
        typed = "a" + "".join(map(chr, range(first, first + 64))) + "b"
        said = clean(typed)
        assert forbidden_in(said) is None
        kept = [sign for sign in typed if forbidden_in(sign) is None and not sign.isspace()]
        assert [sign for sign in said if not sign.isspace()] == kept
