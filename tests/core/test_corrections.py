"""Correcting a mark: another time, other values, old and new in one event, and no time that the record contradicts."""

import pytest

from app.core.commands import GiveGo, MarkStep, RecordStart, UndoMark
from app.core.commands_live import AcceptValues, ConfirmStep, CorrectMark
from app.core.events_progress import MarkCorrected
from app.core.fold import fold
from app.core.situation import Situation
from app.core.words import sentence
from tests.core.building import link, procedure, step, task
from tests.core.live import BAD, BOTH_GOOD, GOOD, LIVE
from tests.core.ordering import expect_refusal
from tests.core.running import Run, logged
from tests.core.test_counts import counted

CHAIN = procedure(
    task("a", [100], who="EV1"),
    task("b", [50], who="EV2", after=[link("a/1", 30)]),
    task("c", [50], who="EV3", after=["b"]),
)


def _chain() -> Run:
    return Run(CHAIN).mark(a_1=100, b_1=200, c_1=300)


def test_a_mark_gets_another_time_and_the_event_has_both() -> None:
    run = _chain()
    assert run.order(CorrectMark("b/1", "heard late"), 400, 180) == (
        MarkCorrected("b/1", 200, 180, (), (), "heard late"),
    )
    assert (run.state.done["b/1"].at_s, run.state.done["b/1"].seq) == (180, 3)


def test_values_are_merged_and_the_time_may_be_kept() -> None:
    run = Run(LIVE).mark(read_1=50)
    run.order(CorrectMark("read/1", "misread", (("gap", 5.0),), keep_time=True), 90)
    mark = run.state.done["read/1"]
    assert (mark.at_s, dict(mark.values)) == (50, {"gap": 5.0, "turns": 11.0})
    words = sentence(run.log[-1].event, LIVE)
    assert words.endswith("gap 5 mm, turns 11, was gap 2 mm, turns 11. misread")


def test_a_value_that_was_left_out_can_be_given_afterwards() -> None:
    run = Run(LIVE)
    run.order(MarkStep("read/1", GOOD, "no gauge"), 50)
    run.order(CorrectMark("read/1", "gauge found", (("turns", 12.0),), keep_time=True), 60)
    assert run.state.done["read/1"].values == BOTH_GOOD


def test_a_correction_needs_a_done_step_a_reason_and_something_to_change() -> None:
    run = _chain()
    expect_refusal(run, CorrectMark("b/1", "  "), 400, "no-reason", at_s=190)
    expect_refusal(run, CorrectMark("b/1", "r", keep_time=True), 400, "unchanged")
    expect_refusal(run, CorrectMark("b/1", "r"), 400, "unchanged", at_s=200)
    expect_refusal(run, CorrectMark("x/1", "r"), 400, "unknown")
    expect_refusal(Run(CHAIN), CorrectMark("a/1", "r"), 400, "not-done")
    expect_refusal(run, CorrectMark("b/1", "r", GOOD, keep_time=True), 400, "unknown-value")


def test_a_value_out_of_tolerance_is_called_again_and_not_corrected() -> None:
    run = Run(LIVE).mark(read_1=50)
    expect_refusal(
        run, CorrectMark("read/1", "r", BAD, True), 60, "out-of-tolerance", "gap 9 mm", "the lead must accept"
    )


def test_a_value_that_was_accepted_out_of_tolerance_does_not_stand_against_another_time() -> None:
    run = Run(LIVE)
    run.order(MarkStep("both/1", BAD), 50)
    run.order(ConfirmStep("both/1", "EV2"), 50)
    run.order(AcceptValues("both/1", "worn"), 60)
    assert run.order(CorrectMark("both/1", "clock misread", BAD), 90, 80)


@pytest.mark.parametrize(
    ("step_id", "at_s", "code", "words"),
    [
        ("b/1", 129, "before-prerequisite", "EV1: “Do a 1” (a/1), done at 00:01:40, and the wait after it"),
        ("b/1", 301, "after-follower", "EV3: “Do c 1” (c/1) waits for it and was done at 00:05:00"),
        ("a/1", 171, "after-follower", "(b/1) waits for it and was done at 00:03:20"),
        ("c/1", 199, "before-prerequisite", "(b/1), done at 00:03:20; correct that first"),
    ],
)
def test_a_time_that_prerequisites_or_followers_contradict_names_what_to_correct_first(
    step_id: str, at_s: int, code: str, words: str
) -> None:
    expect_refusal(_chain(), CorrectMark(step_id, "r"), 400, code, words, at_s=at_s)


@pytest.mark.parametrize(("step_id", "at_s"), [("b/1", 130), ("b/1", 300), ("a/1", 170), ("c/1", 200)])
def test_a_time_just_inside_them_is_taken(step_id: str, at_s: int) -> None:
    assert _chain().order(CorrectMark(step_id, "r"), 400, at_s)


def test_marks_that_were_ordered_against_each_other_stand_in_no_ones_way() -> None:
    run = Run(CHAIN)
    run.order(MarkStep("b/1", ordered_because="by eye"), 50)
    run.mark(a_1=100)
    assert run.order(CorrectMark("b/1", "r"), 400, 20)
    assert run.order(CorrectMark("a/1", "r"), 400, 390)


def test_a_mark_is_not_corrected_to_before_its_goes_its_start_or_its_last_action() -> None:
    run = Run(LIVE)
    run.order(GiveGo("stop/1", "EV1"), 40)
    run.mark(stop_1=50)
    expect_refusal(run, CorrectMark("stop/1", "r"), 60, "hold", "EV1 was go only at 00:00:40", at_s=39)
    run.order(RecordStart("read/1"), 70)
    run.mark(read_1=80)
    expect_refusal(run, CorrectMark("read/1", "r"), 90, "before-start", at_s=69)
    counted(run, "screws/1", 100, 110, 120, 130)
    expect_refusal(run, CorrectMark("screws/1", "r"), 140, "before-count", "3 of 4 was counted at 00:02:00", at_s=119)


def test_what_was_counted_with_the_mark_goes_to_its_new_time() -> None:
    run = Run(LIVE)
    counted(run, "screws/1", 100, 110)
    run.order(MarkStep("screws/1"), 130)
    run.order(CorrectMark("screws/1", "r"), 140, 120)
    assert [each.at_s for each in run.state.progress.counts["screws/1"]] == [100, 110, 120, 120]
    run.order(CorrectMark("screws/1", "r"), 200, 180)
    assert [each.at_s for each in run.state.progress.counts["screws/1"]] == [100, 110, 180, 180]
    past = fold(run.log, until_s=150)
    assert [each.at_s for each in past.progress.counts["screws/1"]] == [100, 110]
    assert "screws/1" not in past.done


def test_a_corrected_mark_is_still_the_last_one_of_its_person() -> None:
    run = _chain()
    run.order(CorrectMark("b/1", "heard late"), 400, 180)
    assert run.order(UndoMark("b/1"), 410)


# What a past moment shows


@pytest.mark.parametrize("now_s", [150, 280])
def test_between_its_old_and_its_new_time_a_step_is_shown_by_the_new_one(now_s: int) -> None:
    run = _chain()
    run.order(CorrectMark("b/1", "heard wrong"), 400, now_s)
    for second in range(100, 401, 10):
        done = fold(run.log, until_s=second).done
        assert ("b/1" in done) is (second >= now_s), second
        if "b/1" in done:
            assert done["b/1"].at_s == now_s


def test_a_mark_corrected_twice_is_shown_by_its_last_time() -> None:
    run = _chain()
    run.order(CorrectMark("b/1", "heard wrong"), 400, 290)
    run.order(CorrectMark("b/1", "wrong again"), 410, 140)
    assert [second for second in range(130, 300) if "b/1" not in fold(run.log, until_s=second).done] == [
        *range(130, 140)
    ]


def test_corrected_values_are_shown_from_the_marks_own_time_on() -> None:
    run = Run(LIVE).mark(read_1=50)
    run.order(CorrectMark("read/1", "misread", BOTH_GOOD, keep_time=True), 90)
    assert fold(run.log, until_s=50).done["read/1"].values == BOTH_GOOD
    assert "read/1" not in fold(run.log, until_s=49).done


def test_a_call_heard_late_into_a_time_when_a_mark_stood_leaves_that_mark_there() -> None:
    run = Run(procedure(task("a", [step(60, record=LIVE.step("both/1").record)], who="EV1")))
    run.order(MarkStep("a/1", GOOD), 50)
    run.order(UndoMark("a/1"), 80)
    run.order(MarkStep("a/1", BAD), 90, 60)
    then = fold(run.log, until_s=70)
    assert (set(then.done), then.progress.called) == ({"a/1"}, {})
    assert set(fold(run.log, until_s=85).progress.called) == {"a/1"}


def test_a_corrected_time_moves_the_projection_of_what_waits() -> None:
    run = Run(CHAIN).mark(a_1=100)
    run.order(CorrectMark("a/1", "heard late"), 120, 60)
    as_if = Situation(run.prepared, fold([logged(1, 60, run.log[1].event)]), 120)
    assert run.at(120).projection == as_if.projection


def test_a_mark_is_not_corrected_to_after_what_is_known_of_a_step_that_waits_for_it() -> None:
    first = task("first", [60], who="EV1")
    stop = task("stop", [step(60, "Clear?", go=("EV2",))], who="EV2", after=["first"])
    cut = task("cut", [60], who="EV1", after=["first"])
    run = Run(procedure(first, stop, cut, crew=("EV1", "EV2")))
    run.mark(first_1=60)
    run.order(GiveGo("stop/1", "EV2"), 80)
    expect_refusal(run, CorrectMark("first/1", "r"), 200, "after-follower", "EV2 answered there at 00:01:20", at_s=81)
    run.order(RecordStart("cut/1"), 200, 70)
    expect_refusal(run, CorrectMark("first/1", "r"), 200, "after-follower", "was started at 00:01:10", at_s=71)
    assert run.order(CorrectMark("first/1", "r"), 200, 70)
