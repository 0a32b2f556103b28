"""What trouble does to simulated people, exactly, and that it does nothing by itself to a trainee."""

from dataclasses import replace

import pytest

from app.core.commands import GiveGo, MarkStep
from app.core.commands_live import AnswerPoll, CallPoll, MoveTool, TakeReading
from app.core.commands_rehearsal import NoteInjectDone, SetInject, SetPlayers
from app.core.events import GoGiven, NoGoGiven, RunEnded, StepMarked
from app.core.events_progress import CompletionCalled, ValuesAccepted
from app.core.events_rehearsal import InjectDone, PlayersSet
from app.core.events_watch import FlagRaised, PollAnswered, ReadingTaken, ToolMoved
from app.core.player_draws import takes_s
from app.core.procedure import Limits, Supply, Value
from app.core.simulated import Simulated, simulate
from app.core.simulating import acts, cast_of
from app.core.simulating_watch import comes_by_itself
from app.core.situation import Prepared
from tests.core.building import link, procedure, step, task
from tests.core.running import Run
from tests.core.simulations import ZERO

GAP = Value("gap", "mm", 2, 6)
MADE = replace(
    procedure(
        task("cut", [600, step(300, "Measure", record=(GAP,))], who="EV1"),
        task("hold", [step(60, "Clear?", go=("EV1", "EV2"))], who="ARM", after=[link("cut")]),
        task("home", [600], who=("EV1", "EV2"), after=["hold"]),
        crew=("EV1", "EV2", "ARM"),
    ),
    supplies=(Supply("battery", ("EV1", "EV2"), "%", 12.0),),
    tools=("saw", "file"),
    limits=Limits(4 * 3600, "home"),
)
MADE = replace(MADE, tasks=tuple(replace(each, needs=("saw",)) if each.id == "cut" else each for each in MADE.tasks))
PREPARED = Prepared(MADE)


def run_with(*troubles: SetInject, seed: int = 4) -> Simulated:
    return simulate(PREPARED, "r", ZERO, seed, troubles)


def when(run: Simulated, kind: type) -> list[int]:
    return [order.at_s for order in run.orders for event in order.events if isinstance(event, kind)]


def told(run: Simulated, kind: type) -> list[object]:
    return [event for order in run.orders for event in order.events if isinstance(event, kind)]


def marks(run: Simulated) -> dict[str, int]:
    return {event.step: order.at_s for order in run.orders for event in order.events if isinstance(event, StepMarked)}


def test_without_trouble_a_step_takes_what_is_drawn_for_it() -> None:
    start = Run(MADE).at(0)
    first = takes_s(start, 0, 4, 0)
    assert marks(run_with())["cut/1"] == first
    assert marks(run_with())["cut/2"] == first + takes_s(start, 1, 4, 0)


def test_the_log_says_first_that_nobody_did_this() -> None:
    first, second = run_with().orders[:2]
    assert "Simulated from seed 4: nobody did this." in str(first.events)
    assert second.events == (PlayersSet(("EV1", "EV2", "ARM"), 4),)
    assert all(order.by.endswith("(simulated)") for order in run_with().orders[2:])


def test_a_delay_makes_its_step_longer_by_as_much_and_takes_effect_once() -> None:
    plain, late = run_with(), run_with(SetInject("delay", step="cut/1", by_s=360, text="it is stuck"))
    assert marks(late)["cut/1"] == marks(plain)["cut/1"] + 360
    assert marks(late)["cut/2"] == marks(plain)["cut/2"] + 360
    assert when(late, InjectDone) == [marks(plain)["cut/1"]], "when it would have been done"


def test_a_delay_that_comes_after_its_step_was_done_does_nothing() -> None:
    late = run_with(SetInject("delay", from_s=marks(run_with())["cut/1"] + 1, step="cut/1", by_s=360))
    assert marks(late) == marks(run_with())
    assert not when(late, InjectDone)


def test_a_failed_step_raises_a_flag_when_it_was_due_and_is_done_once_more() -> None:
    plain, failed = run_with(), run_with(SetInject("failed step", step="cut/1", text="it came loose"))
    flags = [event for order in failed.orders for event in order.events if isinstance(event, FlagRaised)]
    assert [(flag.text, flag.step, flag.person) for flag in flags] == [
        ("Do cut 1 failed: it came loose", "cut/1", "EV1")
    ]
    assert when(failed, FlagRaised) == when(failed, InjectDone) == [marks(plain)["cut/1"]]
    assert marks(failed)["cut/1"] == marks(plain)["cut/1"] + takes_s(Run(MADE).at(0), 0, 4, 1)


def test_a_wrong_reading_is_called_and_the_simple_lead_accepts_it_after_a_minute() -> None:
    wrong = run_with(SetInject("wrong reading", step="cut/2", name="gap", value=7.5))
    (called,) = told(wrong, CompletionCalled)
    assert isinstance(called, CompletionCalled)
    assert dict(called.values) == {"gap": 7.5}
    assert when(wrong, ValuesAccepted) == [when(wrong, CompletionCalled)[0] + 60]


def test_a_wrong_reading_without_a_value_is_out_by_the_width_of_the_band() -> None:
    (called,) = told(run_with(SetInject("wrong reading", step="cut/2", name="gap")), CompletionCalled)
    assert isinstance(called, CompletionCalled)
    assert dict(called.values) == {"gap": 10}


def test_a_gauge_is_read_wrongly_once_by_the_person_named() -> None:
    wrong = run_with(SetInject("wrong reading", supply="battery", person="EV2", value=41.0))
    readings = [each for each in told(wrong, ReadingTaken) if isinstance(each, ReadingTaken)]
    assert next(each.value for each in readings if each.person == "EV2") == 41.0
    assert [each.value for each in readings].count(41.0) == 1


def test_a_tool_is_taken_out_lost_and_given_up_so_that_the_run_can_end() -> None:
    lost = run_with(SetInject("lost tool", from_s=120, tool="saw", text="it drifted off"))
    moves = [(each.how, each.person) for each in told(lost, ToolMoved) if isinstance(each, ToolMoved)]
    assert moves == [("taken", "EV1"), ("lost", "EV1"), ("left outside", None)]
    assert when(lost, ToolMoved)[0] == 120
    assert when(lost, RunEnded)


def test_whoever_has_a_tool_stows_it_when_they_come_to_close_out() -> None:
    run = Run(MADE)
    run.order(SetPlayers(("EV1", "EV2", "ARM"), 4), 0)
    run.order(MoveTool("file", "taken", "EV2"), 10)
    while run.state.ended_s is None:
        act = acts(run.at(run.now_s))[0]
        run.order(act.command, max(run.now_s, act.at_s))
    assert run.state.watch.tools["file"].how == "stowed"
    assert run.state.watch.tools["file"].at_s < run.state.done["home/1"].at_s


def test_a_no_go_is_given_in_place_of_the_go_and_lifted_when_its_time_is_over() -> None:
    plain = run_with()
    held = run_with(SetInject("no-go", person="EV2", by_s=240, text="lost sight"))
    goes = {event.person: order.at_s for order in plain.orders for event in order.events if isinstance(event, GoGiven)}
    (no_go,) = told(held, NoGoGiven)
    assert isinstance(no_go, NoGoGiven)
    assert (no_go.person, no_go.reason) == ("EV2", "lost sight")
    assert when(held, NoGoGiven) == [goes["EV2"]]
    lifted = [each for each in told(held, GoGiven) if isinstance(each, GoGiven) and each.lifted_because]
    assert [each.person for each in lifted] == ["EV2"]
    assert goes["EV2"] + 240 in when(held, GoGiven)


def test_a_no_go_comes_in_a_poll_that_is_open() -> None:
    run = Run(MADE)
    run.order(SetPlayers(("EV2",), 4), 0)
    run.order(SetInject("no-go", person="EV2", text="not yet"), 0)
    run.order(CallPoll("Go for work?"), 5)
    act = acts(run.at(5))[0]
    run.order(act.command, 60, act.at_s)
    assert isinstance(run.log[-1].event, PollAnswered)
    assert (run.log[-1].event.go, run.log[-1].event.reason) == (False, "not yet")
    assert act.inject == "inject-1"
    run.order(NoteInjectDone("inject-1"), 60)
    lifts = next(each for each in acts(run.at(60)) if isinstance(each.command, AnswerPoll))
    assert lifts.at_s == act.at_s + 180


@pytest.mark.parametrize(
    "trouble",
    [
        SetInject("delay", step="cut/1", by_s=60),
        SetInject("failed step", step="cut/1"),
        SetInject("wrong reading", step="cut/2", name="gap"),
        SetInject("wrong reading", supply="battery", person="EV1", value=1.0),
        SetInject("lost tool", tool="saw"),
        SetInject("no-go", person="EV1"),
    ],
    ids=lambda each: f"{each.what} {each.supply or ''}",
)
def test_trouble_of_a_trainee_is_for_the_trainer_to_say(trouble: SetInject) -> None:
    run = Run(MADE)
    run.order(SetPlayers(("EV2", "ARM"), 4), 0)
    before = acts(run.at(0))
    run.order(trouble, 0)
    assert acts(run.at(0)) == before
    run.order(MarkStep("cut/1"), 600)
    run.order(MarkStep("cut/2", (("gap", 4.0),)), 900)
    run.order(TakeReading("battery", "EV1", 90.0), 900)
    after = acts(run.at(900))
    assert after, "EV2 is asked at the hold"
    assert all(each.inject is None for each in after)
    run.order(GiveGo("hold/1", "EV1"), 920)
    assert not any(each.inject for each in acts(run.at(920)))


def test_nothing_is_done_before_the_players_were_set() -> None:
    run = Run(MADE)
    run.order(SetPlayers(("EV1", "EV2", "ARM"), 4), 5_000)
    coming = acts(run.at(5_000))
    assert coming
    assert min(each.at_s for each in coming) == 5_000, "the first step would have been done long ago"


def test_a_rehearsal_that_somebody_forgot_does_not_fill_its_log() -> None:
    run = Run(MADE)
    run.order(SetPlayers(("EV2",), 4), 0)
    while coming := acts(run.at(run.now_s)):
        run.order(coming[0].command, max(run.now_s, coming[0].at_s))
    assert 10 < len(run.log) < 60


def test_a_gauge_is_read_wrongly_as_soon_as_the_trouble_begins_and_not_truly_in_between() -> None:
    at_s = 700
    run = run_with(SetInject("wrong reading", at_s, supply="battery", person="EV2", value=15.0))
    read = [
        (order.at_s, event.value)
        for order in run.orders
        for event in order.events
        if isinstance(event, ReadingTaken) and event.person == "EV2" and order.at_s >= at_s
    ]
    assert read[0][1] == 15.0
    assert at_s + 5 <= read[0][0] <= at_s + 30


@pytest.mark.parametrize(
    ("trouble", "players", "by_itself"),
    [
        (SetInject("lost tool", tool="saw"), ("EV2",), False),
        (SetInject("lost tool", tool="saw"), ("EV1", "EV2"), True),
        (SetInject("lost tool", tool="saw", person="EV2"), ("EV2",), True),
        (SetInject("lost tool", tool="file"), ("EV1",), False),
        (SetInject("wrong reading", supply="battery", value=1.0), ("ARM",), False),
        (SetInject("wrong reading", supply="battery", value=1.0), ("EV2",), True),
        (SetInject("wrong reading", supply="battery", person="EV1", value=1.0), ("EV2",), False),
        (SetInject("delay", step="home/1", by_s=60), ("EV1",), False),
        (SetInject("delay", step="home/1", by_s=60), ("EV1", "EV2"), True),
        (SetInject("no-go", person="ARM"), ("ARM",), True),
    ],
)
def test_the_trainer_is_told_what_comes_by_itself_and_what_must_be_said(
    trouble: SetInject, players: tuple[str, ...], by_itself: bool
) -> None:
    run = Run(MADE)
    run.order(MoveTool("saw", "taken", "EV1"), 5)
    run.order(SetPlayers(players, 4), 10)
    run.order(trouble, 10)
    situation = run.at(20)
    cast = cast_of(situation)
    assert cast is not None
    (event,) = situation.state.rehearsal.injects.values()
    assert comes_by_itself(situation, cast, event) is by_itself
