"""What a trainer may order in a rehearsal, and what the log and a past moment then say."""

from dataclasses import replace

import pytest

from app.core.commands import Command, EndRun, Refusal
from app.core.commands_rehearsal import DrawTrouble, DropInject, NoteInjectDone, RuleClock, SetInject, SetPlayers
from app.core.decide import decide
from app.core.events import RunStarted
from app.core.events_rehearsal import INJECTS, ClockRuled, InjectDone, InjectDropped, InjectSet, PlayersSet
from app.core.fold import fold
from app.core.procedure import Supply, Value
from app.core.training import ALL, MOST_DRAWN, MOST_OPEN, MOST_RATE, MOST_SEED
from app.core.trouble import draw_trouble
from app.core.words import sentence
from tests.core.making import procedure, step, task
from tests.core.running import Run, logged

GO_OUT = step("Go out", go=("EV1", "EV2"))
VALVE = step("Shut the valve", record=(Value("turns", "", 1, 3),))
TWO = step("Read both", record=(Value("left", "V"), Value("right", "V")))
OUTING = procedure(
    task("a", GO_OUT, VALVE, TWO, who=("EV1",)),
    task("b", who=("EV2",)),
    supplies=(Supply("battery", ("EV1", "EV2"), "%", 12),),
    tools=("wrench",),
)


def rehearsal(kind: str = "rehearsal") -> Run:
    run = Run(OUTING)
    run.log = [logged(1, 0, RunStarted("revision", kind, "2031-05-04T07:00:00.000Z"))]
    return run


def refused(run: Run, command: Command, code: str, words: str, at_s: int = 100) -> None:
    with pytest.raises(Refusal, match=words) as refusal:
        run.order(command, at_s)
    assert refusal.value.code == code


EACH = (
    RuleClock(0),
    SetPlayers(("EV1",), 7),
    SetInject("delay", step="b/1", by_s=60),
    DrawTrouble(2, 7),
    DropInject("inject-1"),
    NoteInjectDone("inject-1"),
)


@pytest.mark.parametrize("command", EACH, ids=lambda each: type(each).__name__)
def test_nothing_of_a_live_run_is_made_up(command: Command) -> None:
    refused(rehearsal("live"), command, "not-a-rehearsal", "its clock is the world's")


@pytest.mark.parametrize("command", EACH, ids=lambda each: type(each).__name__)
def test_nothing_is_trained_once_the_run_has_ended(command: Command) -> None:
    run = rehearsal()
    run.order(SetInject("delay", step="b/1", by_s=60), 10)
    run.order(EndRun("enough"), 20)
    refused(run, command, "ended", "ended", 20)


def test_the_clock_is_stopped_let_go_on_sped_up_and_set_forward() -> None:
    run = rehearsal()
    assert run.order(RuleClock(0), 100) == (ClockRuled(0, 100),)
    assert run.order(RuleClock(10), 100) == (ClockRuled(10, 100),)
    assert run.order(RuleClock(to_s=900), 200) == (ClockRuled(10, 900),)
    assert run.order(RuleClock(1, 1000), 950) == (ClockRuled(1, 1000),)
    assert run.state.rehearsal.ruling == replace(
        run.state.rehearsal.ruling, rate=1, to_s=1000, seq=5, utc=run.log[-1].logged_at
    )
    told = [sentence(each.event, OUTING) for each in run.log[1:]]
    assert told == [
        "The clock stands from 00:01:40 on",
        "The clock runs 10 times as fast from 00:01:40 on",
        "The clock runs 10 times as fast from 00:15:00 on",
        "The clock runs from 00:16:40 on",
    ]


@pytest.mark.parametrize(
    ("command", "code", "words"),
    [
        (RuleClock(to_s=99), "back", "can't be set back from 00:01:40 to 00:01:39"),
        (RuleClock(), "no-change", "goes like that already"),
        (RuleClock(1), "no-change", "goes like that already"),
        (RuleClock(-1), "bad-rate", "0.25 to 120 times"),
        (RuleClock(MOST_RATE + 0.1), "bad-rate", "0.25 to 120 times"),
        (RuleClock(to_s=10**9), "bad-time", "less than 1,000 hours"),
    ],
)
def test_a_clock_that_can_not_go_so_is_refused(command: Command, code: str, words: str) -> None:
    refused(rehearsal(), command, code, words)


def test_simulated_people_are_chosen_in_the_order_of_the_crew_and_given_up_again() -> None:
    run = rehearsal()
    assert run.order(SetPlayers(("EV2", "EV1"), 7), 10) == (PlayersSet(("EV1", "EV2"), 7),)
    assert (run.state.rehearsal.players, run.state.rehearsal.seed) == (("EV1", "EV2"), 7)
    refused(run, SetPlayers(("EV1", "EV2"), 7), "no-change", "like that already")
    refused(run, SetPlayers(("EV9",)), "unknown", "EV9")
    refused(run, SetPlayers((), MOST_SEED + 1), "bad-number", "9,007,199,254,740,991")
    assert run.order(SetPlayers(()), 20) == (PlayersSet((), 0),)
    assert sentence(run.log[-1].event, OUTING) == "Nobody is simulated from here on"


SOUND = {
    "delay": SetInject("delay", step="b/1", by_s=300, text=" it is stuck "),
    "failed step": SetInject("failed step", step="a/1"),
    "wrong reading": SetInject("wrong reading", step="a/3", name="left", value=9.5),
    "lost tool": SetInject("lost tool", tool="wrench", person="EV1"),
    "no-go": SetInject("no-go", person="EV2", step="a/1", by_s=180),
}
TOLD = {
    "delay": "delay of 5m at “do it” (b/1): it is stuck",
    "failed step": "“Go out” (a/1) fails",
    "wrong reading": "wrong reading of left at “Read both” (a/3), 9.5",
    "lost tool": "wrench lost by EV1",
    "no-go": "EV2 is no-go at “Go out” (a/1), lifted after 3m",
}


@pytest.mark.parametrize("what", INJECTS)
def test_each_trouble_stands_until_it_took_effect_or_was_dropped(what: str) -> None:
    run = rehearsal()
    (event,) = run.order(SOUND[what], 10)
    assert isinstance(event, InjectSet)
    assert (event.inject, event.what, event.from_s) == ("inject-1", what, 10)
    assert sentence(event, OUTING) == f"Trouble set (inject-1): {TOLD[what]}, from 00:00:10 on"
    (second,) = run.order(replace(SOUND[what], from_s=500), 20)
    assert list(run.state.rehearsal.injects) == ["inject-1", "inject-2"]
    assert run.order(NoteInjectDone("inject-1"), 30) == (InjectDone("inject-1"),)
    assert run.order(DropInject("inject-2"), 40) == (InjectDropped("inject-2"),)
    assert not run.state.rehearsal.injects
    refused(run, DropInject("inject-2"), "unknown", "may have happened already")
    (third,) = run.order(SOUND[what], 50)
    assert isinstance(second, InjectSet)
    assert isinstance(third, InjectSet)
    assert third.inject == "inject-3", "an id is never used twice"
    assert fold(run.log, until_s=35).rehearsal.injects == {"inject-2": second}


def test_a_step_that_records_one_value_need_not_be_told_which() -> None:
    (event,) = rehearsal().order(SetInject("wrong reading", step="a/2"), 10)
    assert isinstance(event, InjectSet)
    assert (event.name, event.value) == ("turns", None)


@pytest.mark.parametrize(
    ("command", "code", "words"),
    [
        (SetInject("rain"), "unknown", "delay, failed step, wrong reading, lost tool, no-go"),
        (SetInject("delay", by_s=60), "incomplete", "needs a step"),
        (SetInject("delay", step="b/1"), "incomplete", "by how much"),
        (SetInject("delay", step="b/9", by_s=60), "unknown", "no step b/9"),
        (SetInject("delay", step="b/1", by_s=60, from_s=99), "bad-time", "now, at 00:01:40, or later"),
        (SetInject("delay", step="b/1", by_s=10**6), "bad-time", "more than a day"),
        (SetInject("lost tool"), "incomplete", "needs a tool"),
        (SetInject("lost tool", tool="spoon"), "unknown", "spoon"),
        (SetInject("no-go"), "incomplete", "needs a person"),
        (SetInject("no-go", person="EV9"), "unknown", "EV9"),
        (SetInject("no-go", person="EV1", step="b/1"), "not-asked", "EV1 is not asked at b/1"),
        (SetInject("wrong reading"), "incomplete", "which gauge"),
        (SetInject("wrong reading", supply="battery"), "incomplete", "what the gauge shows"),
        (SetInject("wrong reading", step="a/3"), "unknown", "it records left, right"),
        (SetInject("wrong reading", step="b/1"), "unknown", "it records none"),
    ],
)
def test_trouble_that_can_not_be_is_refused(command: Command, code: str, words: str) -> None:
    refused(rehearsal(), command, code, words)


def test_a_step_that_is_over_has_no_trouble_any_more() -> None:
    run = rehearsal()
    run.mark(b_1=30)
    refused(run, SetInject("delay", step="b/1", by_s=60), "over", "b/1 is over")


def test_trouble_is_drawn_from_the_seed_over_what_is_left() -> None:
    run = rehearsal()
    drawn = run.order(DrawTrouble(3, 7), 0)
    assert drawn == decide(rehearsal().at(0), DrawTrouble(3, 7), 0)
    expected = draw_trouble(run.at(0).prepared.base, 7, ALL)[:3]
    assert [each.what for each in drawn if isinstance(each, InjectSet)] == [each.what for each in expected]
    assert list(run.state.rehearsal.injects) == ["inject-1", "inject-2", "inject-3"]
    refused(run, DrawTrouble(0, 7), "bad-number", f"1 to {MOST_DRAWN}")
    refused(run, DrawTrouble(MOST_DRAWN + 1, 7), "bad-number", f"1 to {MOST_DRAWN}")
    late = rehearsal()
    late.mark(b_1=30)
    befallen = [each.step for each in late.order(DrawTrouble(MOST_DRAWN, 7), 10**5) if isinstance(each, InjectSet)]
    assert befallen
    assert "b/1" not in befallen


def test_so_much_trouble_and_no_more() -> None:
    run = rehearsal()
    for _ in range(MOST_OPEN):
        run.order(SOUND["delay"], 10)
    refused(run, SOUND["delay"], "too-many", f"{MOST_OPEN} troubles")
