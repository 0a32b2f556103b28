"""Tools at close-out: the list of what is not back, the run that can't end, and any sequence of moves."""

from contextlib import suppress
from dataclasses import replace
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.commands import EndRun, Refusal
from app.core.commands_live import MoveTool
from app.core.custody import is_closing, not_back, place_of
from app.core.events import Logged
from app.core.events_watch import TOOL_WAYS, ToolMoved
from tests.core.building import procedure, task
from tests.core.running import Run
from tests.core.shed import FILE, LEFT, LOST, SAW, STOWED, TOOLS, run_with, taken


def test_the_run_can_not_end_before_each_tool_that_went_out_is_accounted_for() -> None:
    run = run_with((10, taken()), (20, taken("EV2", FILE)), (30, MoveTool(FILE, "lost", reason="slipped")))
    with pytest.raises(Refusal) as refused:
        run.order(EndRun("in"), 100)
    assert refused.value.code == "tools-out"
    assert str(refused.value).startswith(
        "Not back: saw (EV1 has it since 00:00:10) and file (LOST 00:00:30, EV2 had it: slipped)."
    )
    run.order(STOWED, 110)
    with pytest.raises(Refusal, match=r"Not back: file \(LOST"):
        run.order(EndRun("in"), 120)
    run.order(MoveTool(FILE, "left outside", reason="lost over bay 3"), 130)
    run.order(EndRun("in"), 140)
    assert run.state.ended_s == 140


@pytest.mark.parametrize("account", [MoveTool(SAW, "found", "EV2"), LEFT])
def test_a_tool_that_is_found_or_left_still_has_to_be_stowed(account: MoveTool) -> None:
    run = run_with((10, taken()), *([(20, LOST)] if account.how == "found" else []), (30, account))
    with pytest.raises(Refusal, match="Not back: saw"):
        run.order(EndRun("in"), 40)
    run.order(STOWED, 50)
    assert run.order(EndRun("in"), 60)


def test_a_run_in_which_no_tool_has_a_record_may_end() -> None:
    run = run_with()
    assert run.order(EndRun("called off"), 5)


def test_closing_begins_when_one_of_the_close_outs_people_comes_to_it() -> None:
    run = run_with()
    assert not is_closing(run.at(0))
    run.mark(cut_1=600, trim_1=1200)
    assert is_closing(run.at(1200)), "EV1 has come to it, EV2 has still to polish"
    assert is_closing(run.at(1200), "EV2")
    assert not is_closing(run.at(1200), "ARM"), "close-out is none of the arm's work"
    run.mark(polish_1=1300, home_1=1400)
    assert is_closing(run.at(1400)), "until the run ends"


def test_without_a_close_out_task_closing_begins_when_nothing_is_left() -> None:
    run = Run(replace(procedure(task("a", who="EV1")), tools=TOOLS))
    assert not is_closing(run.at(0))
    run.mark(a_1=60)
    assert is_closing(run.at(60))


# Any moves


def _any_move(rng: Random) -> MoveTool:
    return MoveTool(
        rng.choice([*TOOLS, SAW, SAW, "axe"]),
        rng.choice([*TOOL_WAYS, "taken", "handed", "thrown"]),
        rng.choice(["EV1", "EV2", "ARM", "EV1", "EV2", "BOB", None]),
        rng.choice(["bay 4 left", "bay 3", " ", ""]),
        rng.choice(["slipped", "", " "]),
    )


def _walked(log: list[Logged], tool: str) -> tuple[str, int, str | None] | None:
    """The slow way: everything that the log says of the tool in the order it happened, and of that the last."""
    entries = [(each.at_s, each.seq, each.event) for each in log if isinstance(each.event, ToolMoved)]
    own = sorted((at_s, seq, event.how, event.person) for at_s, seq, event in entries if event.tool == tool)
    return (own[-1][2], own[-1][0], own[-1][3]) if own else None


def _chain_holds(log: list[Logged], tool: str) -> bool:
    """Nobody hands over what nobody has, and what is lost or was found stands in that order in the log."""
    now = "none"
    for each in log:
        if isinstance(each.event, ToolMoved) and each.event.tool == tool:
            how = each.event.how
            if how == "handed" and now not in ("taken", "handed", "found"):
                return False
            if how in ("lost", "left outside") and now in ("none", "stowed", "left outside"):
                return False
            if now == "lost" and how not in ("found", "stowed", "left outside"):
                return False
            now = how
    return True


@settings(max_examples=200, deadline=None)
@given(seed=st.integers(0, 2**32))
def test_any_moves_are_taken_or_refused_and_the_place_is_what_the_log_says(seed: int) -> None:
    rng, run, now_s = Random(seed), run_with(), 0
    for _ in range(rng.randrange(50)):
        now_s += rng.choice([0, 1, 7])
        with suppress(Refusal):
            run.order(_any_move(rng), now_s, max(0, now_s - rng.choice([0, 0, 5])))
    for tool in TOOLS:
        place = place_of(run.at(now_s), tool)
        assert (None if place is None else (place.how, place.at_s, place.person)) == _walked(run.log, tool)
        assert _chain_holds(run.log, tool)
    out = {tool for tool in TOOLS if (last := _walked(run.log, tool)) and last[0] not in ("stowed", "left outside")}
    assert {tool for tool, _ in not_back(run.at(now_s))} == out
    if out:
        with pytest.raises(Refusal):
            run.order(EndRun("in"), now_s)
    else:
        assert run.order(EndRun("in"), now_s)
