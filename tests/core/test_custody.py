"""Tools: each way to move one, each refusal, and what a task's needs come to."""

from dataclasses import replace

import pytest

from app.core.choices import offers
from app.core.commands import MarkStep, PutBack, PutOff, Refusal, TakeWork
from app.core.commands_live import MoveTool
from app.core.custody import missing_tools, needs_words, place_of, place_words
from app.core.fold import fold
from app.core.situation import Situation
from tests.core.building import procedure, task
from tests.core.running import Run
from tests.core.shed import FILE, LEFT, LOST, OUTSIDE, SAW, STOWED, one_by_one, run_with, taken


def _words(run: Run, now_s: int = 1000, tool: str = SAW) -> str:
    return place_words(place_of(run.at(now_s), tool))


# Each way


@pytest.mark.parametrize(
    ("moves", "said"),
    [
        ([], "no record: never taken out"),
        ([taken()], "EV1 has it since 00:00:10"),
        ([taken(), MoveTool(SAW, "handed", "EV2")], "EV2 has it since 00:00:20"),
        ([taken(), LEFT], "left at bay 4 left by EV1, 00:00:20"),
        ([taken(), replace(LEFT, person="EV2")], "left at bay 4 left by EV2, 00:00:20"),
        ([taken(), LEFT, replace(LEFT, where="bay 5")], "left at bay 5, 00:00:30"),
        ([taken(), LEFT, taken("EV2")], "EV2 has it since 00:00:30"),
        ([taken(), LEFT, MoveTool(SAW, "found", "EV2")], "EV2 has it since 00:00:30"),
        ([LEFT], "left at bay 4 left, 00:00:10"),
        ([taken(), STOWED], "stowed by EV1, 00:00:20"),
        ([taken(), replace(STOWED, person="ARM")], "stowed by ARM, 00:00:20"),
        ([STOWED], "stowed, 00:00:10"),
        ([taken(), STOWED, taken("EV2")], "EV2 has it since 00:00:30"),
        ([taken(), LOST], "LOST 00:00:20, EV1 had it at bay 3: drifted off"),
        ([taken(), LEFT, replace(LOST, where="")], "LOST 00:00:30: drifted off"),
        ([taken(), LOST, MoveTool(SAW, "found", "EV2")], "EV2 has it since 00:00:30"),
        ([taken(), LOST, STOWED], "stowed, 00:00:30"),
        ([taken(), LOST, OUTSIDE], "left outside for good, 00:00:30: stuck in the rail"),
        ([taken(), OUTSIDE, taken("EV2")], "EV2 has it since 00:00:30"),
        ([taken(), OUTSIDE, MoveTool(SAW, "found", "ARM")], "ARM has it since 00:00:30"),
        ([taken(), OUTSIDE, STOWED], "stowed, 00:00:30"),
    ],
)
def test_a_tool_is_where_the_last_move_left_it(moves: list[MoveTool], said: str) -> None:
    assert _words(one_by_one(*moves)) == said


def test_places_and_reasons_are_trimmed() -> None:
    run = run_with((10, taken()), (20, MoveTool(SAW, "lost", None, "  bay 3 ", "  gone \n")))
    place = place_of(run.at(20), SAW)
    assert place is not None
    assert (place.where, place.reason) == ("bay 3", "gone")


def test_a_tool_of_which_nothing_was_heard_stays_without_a_record() -> None:
    assert _words(run_with((10, taken())), tool=FILE) == "no record: never taken out"


# Each refusal


@pytest.mark.parametrize(
    ("moves", "wrong", "code", "said"),
    [
        ([], MoveTool("axe", "taken", "EV1"), "unknown", "no tool “axe”; it has saw, file and lamp"),
        ([], MoveTool(SAW, "thrown", "EV1"), "unknown", "taken, handed, left"),
        ([], taken("BOB"), "unknown", "its crew is EV1, EV2 and ARM"),
        ([], MoveTool(SAW, "taken"), "incomplete", "Say who has saw"),
        ([taken()], MoveTool(SAW, "handed"), "incomplete", "Say who has saw"),
        ([taken(), LOST], MoveTool(SAW, "found"), "incomplete", "Say who has saw"),
        ([taken()], MoveTool(SAW, "left", where=" "), "incomplete", "Say where saw was left"),
        ([taken()], replace(LEFT, where="x" * 201), "too-long", "200 characters"),
        ([taken()], taken(), "has-it", "EV1 has saw already, since 00:00:10"),
        ([taken()], MoveTool(SAW, "handed", "EV1"), "has-it", "EV1 has saw already"),
        ([taken()], MoveTool(SAW, "lost"), "no-reason", "seen last"),
        ([taken()], MoveTool(SAW, "left outside", reason=" "), "no-reason", "Say why"),
        ([taken()], replace(LOST, reason="x" * 2001), "too-long", "2,000"),
        ([], MoveTool(SAW, "handed", "EV1"), "not-there", "Enter it as taken"),
        ([taken(), LEFT], MoveTool(SAW, "handed", "EV2"), "not-there", "left at bay 4 left"),
        ([], LOST, "not-there", "Enter first who took it out"),
        ([taken(), STOWED], LOST, "not-there", "stowed by EV1"),
        ([taken(), LOST], LOST, "not-there", "LOST 00:00:20"),
        ([taken(), LOST], taken("EV2"), "not-there", "enter it as found"),
        ([taken(), LOST], LEFT, "not-there", "Enter first who found it"),
        ([], MoveTool(SAW, "found", "EV1"), "not-there", "never taken out"),
        ([taken()], MoveTool(SAW, "found", "EV2"), "not-there", "Enter it as handed over"),
        ([taken(), STOWED], MoveTool(SAW, "found", "EV2"), "not-there", "Enter it as taken"),
        ([taken(), STOWED], STOWED, "not-there", "stowed by EV1, 00:00:20"),
        ([taken(), STOWED], OUTSIDE, "not-there", "stowed by EV1"),
        ([], OUTSIDE, "not-there", "never taken out"),
        ([taken(), OUTSIDE], OUTSIDE, "not-there", "stuck in the rail"),
    ],
)
def test_what_can_not_have_happened_is_refused_in_words(
    moves: list[MoveTool], wrong: MoveTool, code: str, said: str
) -> None:
    run = one_by_one(*moves)
    before = len(run.log)
    with pytest.raises(Refusal, match=said) as refused:
        run.order(wrong, 100)
    assert refused.value.code == code
    assert len(run.log) == before


def test_a_procedure_without_tools_says_that_it_names_none() -> None:
    with pytest.raises(Refusal, match="it names none"):
        Run(procedure(task("a", who="EV1"))).order(taken(), 5)


def test_a_move_heard_late_comes_after_the_tools_latest_or_is_refused() -> None:
    run = run_with((100, taken()))
    run.order(taken("EV2", FILE), 200, 50)
    with pytest.raises(Refusal, match="EV1 has it since 00:01:40") as refused:
        run.order(LEFT, 200, 99)
    assert refused.value.code == "before-entry"
    run.order(LEFT, 200, 100)
    assert _words(run) == "left at bay 4 left by EV1, 00:01:40"


def test_a_past_moment_shows_where_the_tool_was_then() -> None:
    run = run_with((10, taken()), (60, LEFT))
    past = Situation(run.prepared, fold(run.log, until_s=30), 30)
    assert place_words(place_of(past, SAW)) == "EV1 has it since 00:00:10"
    assert _words(run) == "left at bay 4 left by EV1, 00:01:00"


# Needs


@pytest.mark.parametrize(
    ("moves", "is_at_hand", "said"),
    [
        ([], True, "no record: never taken out"),
        ([taken("EV1")], True, "EV1 has it since 00:00:10"),
        ([taken("EV2")], False, "EV2 has it; hand it over first"),
        ([taken("EV2"), replace(LEFT, where=" BAY 4  Left ")], True, "left at BAY 4  Left by EV2, 00:00:20"),
        ([taken("EV1"), replace(LEFT, where="bay 5")], False, "left at bay 5 by EV1, 00:00:20; fetch it first"),
        ([taken("EV1"), STOWED], False, "stowed by EV1, 00:00:20; take it out first"),
        ([taken("EV1"), LOST], False, "LOST 00:00:20, EV1 had it at bay 3: drifted off"),
        ([taken("EV1"), OUTSIDE], False, "left outside for good, 00:00:20: stuck in the rail"),
    ],
)
def test_a_tool_is_at_hand_with_the_tasks_people_or_left_where_it_is_done(
    moves: list[MoveTool], is_at_hand: bool, said: str
) -> None:
    now = one_by_one(*moves).at(100)
    (need,) = needs_words(now, "cut")
    assert (need.tool, need.at_hand, need.words) == (SAW, is_at_hand, said)
    assert missing_tools(now, "cut") == (() if is_at_hand else (need,))


def test_a_tool_left_somewhere_is_not_at_hand_for_a_task_that_names_no_place() -> None:
    now = run_with((10, taken()), (20, LEFT)).at(100)
    assert [need.tool for need in missing_tools(now, "trim")] == [SAW]


def test_of_a_joint_task_any_of_its_people_may_have_the_tool() -> None:
    assert missing_tools(run_with((10, taken("EV2", FILE))).at(100), "trim") == ()


def test_a_step_whose_tool_is_not_at_hand_can_be_marked_all_the_same() -> None:
    run = run_with((10, taken("EV2")))
    run.order(MarkStep("cut/1"), 500)
    assert "cut/1" in run.state.done


def test_a_get_ahead_item_is_not_offered_while_its_tool_is_elsewhere() -> None:
    run = run_with((10, taken("ARM", FILE)))
    (offer,) = [each for each in offers(run.at(20)) if each.task == "extra"]
    assert not offer.eligible
    assert offer.reason == "file: ARM has it; hand it over first"
    with pytest.raises(Refusal, match="ARM has it"):
        run.order(TakeWork("extra"), 20)
    run.order(MoveTool(FILE, "handed", "EV2"), 30)
    run.order(TakeWork("extra"), 30)
    assert "extra" in run.state.taken


def test_put_off_work_is_not_offered_while_its_tool_is_lost_but_may_be_put_back_in_its_old_place() -> None:
    run = run_with((10, taken("EV2", FILE)))
    run.order(PutOff("polish", "short of time"), 20)
    assert [each.eligible for each in offers(run.at(20)) if each.task == "polish"] == [True]
    run.order(MoveTool(FILE, "lost", reason="slipped"), 30)
    assert [each.reason for each in offers(run.at(30)) if each.task == "polish"] == [
        "file: LOST 00:00:30, EV2 had it: slipped"
    ]
    run.order(PutBack("polish", "the lead wants it"), 30)
    assert "polish" not in run.state.put_off


def test_the_same_item_is_offered_when_no_tool_has_a_record() -> None:
    assert [each.eligible for each in offers(run_with().at(20)) if each.task == "extra"] == [True]
