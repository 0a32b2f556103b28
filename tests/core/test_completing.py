"""From a call to a mark: warnings, values, the lead's acceptance, the second person. Each refusal with its code."""

from dataclasses import replace

import pytest

from app.core.commands import GiveGo, GiveNoGo, MarkStep, RecordStart, ReopenStep, SetNotNeeded
from app.core.commands_live import AcceptValues, AcknowledgeWarning, ConfirmStep
from app.core.events import StepMarked
from app.core.events_progress import (
    CompletionCalled,
    StepConfirmed,
    ValuesAccepted,
    WarningAcknowledged,
)
from app.core.situation import StepState
from tests.core.building import procedure, step, task
from tests.core.live import BAD, BOTH_GOOD, GOOD, LIVE
from tests.core.ordering import expect_refusal
from tests.core.running import Run

# Warnings


def test_a_step_is_not_done_before_each_of_its_people_has_acknowledged_its_warning() -> None:
    run = Run(LIVE)
    expect_refusal(run, MarkStep("hot/1"), 50, "warning", "EV1 and EV2 must acknowledge", "(hot/1)")
    assert run.order(AcknowledgeWarning("hot/1", "EV1"), 50) == (WarningAcknowledged("hot/1", "EV1"),)
    expect_refusal(run, MarkStep("hot/1"), 55, "warning", "EV2 must acknowledge")
    assert run.order(AcknowledgeWarning("hot/1", "EV2", heard=True), 60) == (WarningAcknowledged("hot/1", "EV2", True),)
    assert run.order(MarkStep("hot/1"), 70) == (StepMarked("hot/1"),)


def test_no_order_of_the_lead_passes_a_warning() -> None:
    refusal = expect_refusal(Run(LIVE), MarkStep("hot/1", ordered_because="no time"), 50, "warning")
    assert not refusal.may_order


def test_a_mark_heard_late_keeps_its_time_though_the_acknowledgement_was_entered_after_it() -> None:
    run = Run(LIVE)
    expect_refusal(run, MarkStep("hot/1"), 90, "warning", at_s=59)
    for person in ("EV1", "EV2"):
        run.order(AcknowledgeWarning("hot/1", person), 60)
    assert run.order(MarkStep("hot/1"), 90, 59)
    assert run.state.done["hot/1"].at_s == 59


def test_a_warning_is_acknowledged_once_by_the_people_of_its_step_and_by_nobody_else() -> None:
    run = Run(LIVE)
    run.order(AcknowledgeWarning("hot/1", "EV1"), 50, 40)
    expect_refusal(run, AcknowledgeWarning("hot/1", "EV1"), 60, "acknowledged", "already, at 00:00:40")
    expect_refusal(run, AcknowledgeWarning("hot/1", "ARM"), 60, "not-asked", "ARM")
    expect_refusal(run, AcknowledgeWarning("read/1", "EV1"), 60, "no-warning")
    expect_refusal(run, AcknowledgeWarning("cold/1", "EV1"), 60, "unknown")


def test_a_warning_may_be_acknowledged_before_its_step_can_begin() -> None:
    later = replace(step(60), warning="Mind the edge.")
    run = Run(procedure(task("a", [60], who="EV1"), task("b", [later], who="EV2", after=["a"])))
    assert run.order(AcknowledgeWarning("b/1", "EV2"), 5)
    assert run.mark(a_1=60).order(MarkStep("b/1"), 130) == (StepMarked("b/1"),)


def test_a_step_of_nobody_needs_no_acknowledgement() -> None:
    assert Run(LIVE).order(MarkStep("alone/1"), 50) == (StepMarked("alone/1"),)


def test_a_warning_stays_acknowledged_when_its_step_is_reopened() -> None:
    run = Run(LIVE).mark(hot_1=60)
    run.order(ReopenStep("hot/1", "wrong valve"), 70)
    assert run.order(MarkStep("hot/1"), 80)


# Values


def test_a_mark_needs_every_value_and_names_those_missing_with_their_units() -> None:
    refusal = expect_refusal(Run(LIVE), MarkStep("read/1"), 50, "values-missing", "“gap” (mm) and “turns” are")
    assert refusal.may_order
    expect_refusal(Run(LIVE), MarkStep("read/1", GOOD), 50, "values-missing", "“turns” is not given")


def test_the_lead_may_order_a_mark_without_its_values_and_the_reason_stands_in_it() -> None:
    run = Run(LIVE)
    assert run.order(MarkStep("read/1", GOOD, " gauge broke "), 50) == (StepMarked("read/1", GOOD, "gauge broke"),)
    assert Run(LIVE).order(MarkStep("read/1", BOTH_GOOD, "hurry"), 50) == (StepMarked("read/1", BOTH_GOOD),)


def test_an_open_prerequisite_and_missing_values_are_told_in_one_sentence() -> None:
    run = Run(procedure(task("a", [60], who="EV1"), task("b", [LIVE.step("both/1")], who="EV2", after=["a"])))
    refusal = expect_refusal(run, MarkStep("b/1"), 10, "open-prerequisite", "(a/1) is open", "“gap” (mm) is not given")
    assert refusal.may_order


def test_a_value_given_twice_is_refused() -> None:
    expect_refusal(Run(LIVE), MarkStep("read/1", (*BOTH_GOOD, ("gap", 5.0))), 50, "twice")


@pytest.mark.parametrize("reading", [1.9, 6.1])
def test_a_value_out_of_tolerance_makes_the_mark_a_call_and_the_step_stays_open(reading: float) -> None:
    run = Run(LIVE).mark(hot_1=40)
    values = (("gap", reading), ("turns", 12.0))
    assert run.order(MarkStep("read/1", values), 50) == (CompletionCalled("read/1", values),)
    assert (set(run.state.done), run.state.progress.called["read/1"].values) == ({"hot/1"}, values)
    assert run.step_state("read/1", 55) is StepState.UNDER_WAY
    assert run.state.begun("read")


@pytest.mark.parametrize("reading", [2.0, 6.0])
def test_the_bounds_themselves_are_in_tolerance(reading: float) -> None:
    assert Run(LIVE).order(MarkStep("read/1", (("gap", reading), ("turns", 11.0))), 50)[-1] == StepMarked(
        "read/1", (("gap", reading), ("turns", 11.0))
    )


def test_the_lead_accepts_values_with_a_reason_and_the_step_is_done_at_that_moment() -> None:
    run = Run(LIVE)
    values = (*BAD, ("turns", 12.0))
    run.order(MarkStep("read/1", values), 50)
    expect_refusal(run, AcceptValues("read/1", " "), 60, "no-reason")
    accepted = (ValuesAccepted("read/1", "within wear"), StepMarked("read/1", values))
    assert run.order(AcceptValues("read/1", "within wear"), 70) == accepted
    assert (run.state.done["read/1"].at_s, run.state.progress.called) == (70, {})


def test_there_is_nothing_to_accept_without_a_call_out_of_tolerance() -> None:
    run = Run(LIVE)
    expect_refusal(run, AcceptValues("read/1", "r"), 50, "not-called")
    run.order(MarkStep("both/1", GOOD), 50)
    expect_refusal(run, AcceptValues("both/1", "r"), 60, "in-tolerance")
    expect_refusal(run.mark(read_1=60), AcceptValues("read/1", "r"), 70, "already-done")


def test_an_acceptance_before_the_call_is_refused() -> None:
    run = Run(LIVE)
    run.order(MarkStep("read/1", (*BAD, ("turns", 12.0))), 50)
    expect_refusal(run, AcceptValues("read/1", "r"), 70, "before-call", "only at 00:00:50", at_s=49)
    assert run.order(AcceptValues("read/1", "r"), 70, 50)


def test_other_values_take_the_place_of_a_call_and_complete_the_step_when_all_is_well() -> None:
    run = Run(LIVE)
    run.order(MarkStep("read/1", (*BAD, ("turns", 12.0))), 50)
    other = (("gap", 8.0), ("turns", 12.0))
    assert run.order(MarkStep("read/1", other), 60) == (CompletionCalled("read/1", other),)
    assert run.state.progress.called["read/1"].at_s == 60
    assert run.order(MarkStep("read/1", BOTH_GOOD), 70) == (StepMarked("read/1", BOTH_GOOD),)
    assert run.state.progress.called == {}


def test_two_stations_do_not_call_one_step_twice_with_the_same_values() -> None:
    run = Run(LIVE)
    run.order(MarkStep("both/1", BAD), 50)
    words = ("already, at 00:00:50 by desk", "the lead accepts gap 9 mm and EV2 confirms.")
    expect_refusal(run, MarkStep("both/1", BAD), 51, "called", *words)


# The second person


def test_a_step_with_a_second_person_is_done_only_when_that_one_confirms() -> None:
    run = Run(LIVE)
    assert run.order(MarkStep("seen/1"), 50) == (CompletionCalled("seen/1"),)
    assert run.step_state("seen/1", 60) is not StepState.DONE
    expect_refusal(run, ConfirmStep("seen/1", "EV1"), 60, "not-asked", "only EV2 does")
    assert run.order(ConfirmStep("seen/1", "EV2", heard=True), 70) == (
        StepConfirmed("seen/1", "EV2", True),
        StepMarked("seen/1"),
    )
    assert run.state.done["seen/1"].at_s == 70


def test_nothing_is_confirmed_before_it_was_called_nor_where_nobody_is_asked() -> None:
    run = Run(LIVE)
    expect_refusal(run, ConfirmStep("seen/1", "EV2"), 50, "not-called")
    expect_refusal(run, ConfirmStep("read/1", "EV2"), 50, "not-asked", "nobody is asked")
    run.order(MarkStep("seen/1"), 60)
    expect_refusal(run, ConfirmStep("seen/1", "EV2"), 90, "before-call", "00:01:00", at_s=59)


@pytest.mark.parametrize("first", ["accept", "confirm"])
def test_where_both_are_missing_whichever_comes_last_completes_the_step(first: str) -> None:
    run = Run(LIVE)
    run.order(MarkStep("both/1", BAD), 50)
    accept, confirm = AcceptValues("both/1", "worn"), ConfirmStep("both/1", "EV2")
    accepted, confirmed = ValuesAccepted("both/1", "worn"), StepConfirmed("both/1", "EV2")
    marked = StepMarked("both/1", BAD)
    if first == "accept":
        assert run.order(accept, 60) == (accepted,)
        expect_refusal(run, AcceptValues("both/1", "again"), 65, "accepted", "worn")
        assert run.order(confirm, 70) == (confirmed, marked)
    else:
        assert run.order(confirm, 60) == (confirmed,)
        expect_refusal(run, confirm, 65, "confirmed", "00:01:00")
        assert run.order(accept, 70) == (accepted, marked)
    assert run.state.done["both/1"].at_s == 70


def test_the_second_answer_is_not_earlier_than_the_first() -> None:
    run = Run(LIVE)
    run.order(MarkStep("both/1", BAD), 50)
    run.order(AcceptValues("both/1", "worn"), 60)
    expect_refusal(run, ConfirmStep("both/1", "EV2"), 90, "before-call", "was accepted only at 00:01:00", at_s=59)


def test_a_new_call_asks_for_confirmation_and_acceptance_again() -> None:
    run = Run(LIVE)
    run.order(MarkStep("both/1", BAD), 50)
    run.order(ConfirmStep("both/1", "EV2"), 60)
    run.order(MarkStep("both/1", (("gap", 8.0),)), 70)
    assert run.order(AcceptValues("both/1", "worn"), 80) == (ValuesAccepted("both/1", "worn"),)
    run.order(MarkStep("both/1", GOOD), 90)
    assert run.order(ConfirmStep("both/1", "EV2"), 95) == (StepConfirmed("both/1", "EV2"), StepMarked("both/1", GOOD))


# What comes back between call and mark


def test_a_no_go_after_the_call_holds_the_acceptance() -> None:
    run = Run(LIVE)
    run.order(GiveGo("stop/1", "EV1"), 40)
    run.order(MarkStep("stop/1", BAD), 50)
    run.order(GiveNoGo("stop/1", "EV1", "drift"), 60)
    expect_refusal(run, AcceptValues("stop/1", "r"), 70, "hold", "EV1")
    run.order(GiveGo("stop/1", "EV1", "steady again"), 80)
    assert run.order(AcceptValues("stop/1", "r"), 90)[-1] == StepMarked("stop/1", BAD)


def test_a_prerequisite_reopened_after_the_call_stands_against_the_confirmation_until_the_lead_orders() -> None:
    run = Run(procedure(task("a", [60], who="EV1"), task("b", [LIVE.step("seen/1")], who="EV2", after=["a"])))
    run.mark(a_1=50).order(MarkStep("b/1"), 60)
    run.order(ReopenStep("a/1", "slip"), 70)
    expect_refusal(run, ConfirmStep("b/1", "EV2"), 80, "open-prerequisite", "(a/1) is open", "Take the call back")
    assert run.order(MarkStep("b/1", (), "it holds"), 85) == (CompletionCalled("b/1", (), "it holds"),)
    assert run.order(ConfirmStep("b/1", "EV2"), 90)[-1] == StepMarked("b/1", (), "it holds")


def test_a_call_that_waits_can_be_set_not_needed_and_waits_no_more() -> None:
    run = Run(LIVE)
    run.order(MarkStep("seen/1"), 50)
    assert run.order(SetNotNeeded("seen/1", "other pin holds"), 60)
    assert run.state.progress.called == {}
    expect_refusal(run, ConfirmStep("seen/1", "EV2"), 70, "not-needed")


def test_a_start_is_not_recorded_after_the_step_was_called() -> None:
    run = Run(LIVE)
    run.order(MarkStep("seen/1"), 50)
    expect_refusal(run, RecordStart("seen/1"), 60, "after-call", "00:00:50")
    assert run.order(RecordStart("seen/1"), 60, 50)


# Goes


def test_a_go_where_a_no_go_stands_says_what_lifts_it() -> None:
    run = Run(LIVE)
    run.order(GiveNoGo("stop/1", "EV1", "wind", heard=True), 40)
    expect_refusal(run, GiveGo("stop/1", "EV1"), 50, "no-reason", "EV1 is no-go since 00:00:40, wind")
    (given,) = run.order(GiveGo("stop/1", "EV1", "wind has dropped", heard=True), 50)
    assert (given.lifted_because, given.heard) == ("wind has dropped", True)  # type: ignore[union-attr]  # a GoGiven
    assert run.state.answers["stop/1"]["EV1"].heard


def test_the_same_answer_twice_in_a_row_is_refused_with_since_when() -> None:
    run = Run(LIVE)
    run.order(GiveGo("stop/1", "EV1"), 40)
    expect_refusal(run, GiveGo("stop/1", "EV1", "still"), 50, "same-answer", "EV1 is go already, since 00:00:40.")
    run.order(GiveNoGo("stop/1", "EV1", "wind"), 60)
    expect_refusal(run, GiveNoGo("stop/1", "EV1", "rain"), 70, "same-answer", "EV1 is no-go already, since 00:01:00.")


def test_a_go_heard_late_from_before_a_no_go_does_not_lift_it() -> None:
    run = Run(LIVE)
    run.order(GiveNoGo("stop/1", "EV1", "wind"), 60)
    expect_refusal(run, GiveGo("stop/1", "EV1", "calm"), 70, "before-answer", "the later answer stands", at_s=59)
