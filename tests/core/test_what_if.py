"""What if: changes in words become the orders of the same meaning, and nothing happens to the run."""

from pathlib import Path

import pytest

from app.core.changes import EXAMPLES, MOST_CHANGES, read
from app.core.commands import (
    Command,
    GiveBackWork,
    MakeChanges,
    PutBack,
    PutOff,
    RecordStart,
    Refusal,
    ReorderTasks,
    ReviseTakes,
    SwapTasks,
    TakeWork,
)
from app.core.decide import decide
from app.core.procedure import Procedure
from app.core.situation import Situation
from app.core.suppose import suppose
from app.core.what_if import what_if
from app.reading.procedure_reader import read_procedure
from tests.core.building import procedure, step, task
from tests.core.running import Run

WHY = "what if"
KINDS = (ReviseTakes, PutOff, PutBack, TakeWork, GiveBackWork, SwapTasks, ReorderTasks)
SAMPLE = Path(__file__).parent.parent.parent / "procedures" / "pump-changeout.yaml"


def _pump() -> Procedure:
    made = read_procedure(SAMPLE.read_bytes()).procedure
    assert made is not None
    return made


def _asked(said: str) -> Command:
    return read(Run(_pump()).at(0), said, WHY)


@pytest.mark.parametrize(
    ("said", "command"),
    [
        ("EV2 loses 15 min", ReviseTakes("go-out/1", 25 * 60, WHY)),
        ("EV2 gains 90 s", ReviseTakes("go-out/1", 510, WHY)),
        ("fasten/1 takes 40 min", ReviseTakes("fasten/1", 2400, WHY)),
        ("fasten/1 takes PT40M", ReviseTakes("fasten/1", 2400, WHY)),
        ("put off photo-survey", PutOff("photo-survey", WHY)),
        ("put back photo-survey", PutBack("photo-survey", WHY)),
        ("take sample-tray", TakeWork("sample-tray")),
        ("give back sample-tray", GiveBackWork("sample-tray")),
        ("swap plug and watch of EV1", SwapTasks("EV1", "plug", "watch", WHY)),
        ("move watch before plug of EV1", ReorderTasks("EV1", ("watch", "plug"), WHY)),
        ("move go-out before watch of EV1", ReorderTasks("EV1", ("unplug", "plug", "go-out"), WHY)),
    ],
)
def test_each_form_is_the_order_of_its_meaning(said: str, command: Command) -> None:
    assert _asked(said) == command


@pytest.mark.parametrize("said", EXAMPLES)
def test_each_example_is_understood(said: str) -> None:
    assert type(_asked(said)) in KINDS


@pytest.mark.parametrize(
    ("said", "like"),
    [
        ("  PUT   OFF Photo-SURVEY ", "put off photo-survey"),
        ("Put off photo survey of bay 3", "put off photo-survey"),
        ("put off “Photo survey of bay 3”", "put off photo-survey"),
        ("ev2 LOSES 15 min", "EV2 loses 15 min"),
        ("Fasten/1 Takes 40 min", "fasten/1 takes 40 min"),
        ("drive the eight frame screws; count the turns of the last takes 40 min", "fasten/1 takes 40 min"),
        ("Swap Plug In The Spare Pump and Watch the pump start of ev1", "swap plug and watch of EV1"),
        ("move Watch the pump start before Plug in the spare pump of EV1", "move watch before plug of EV1"),
    ],
)
def test_case_spaces_and_titles_make_no_difference(said: str, like: str) -> None:
    assert _asked(said) == _asked(like)


@pytest.mark.parametrize(
    ("said", "command"),
    [
        ("Take the spare from rack slot 1 takes 15 min", ReviseTakes("bring-spare/1", 900, WHY)),
        ("swap Go out and set up and Unplug the old pump of EV1", SwapTasks("EV1", "go-out", "unplug", WHY)),
        ("swap unplug and Go out and set up of EV1", SwapTasks("EV1", "unplug", "go-out", WHY)),
        ("move Gather tools and come in before plug of EV1", ReorderTasks("EV1", ("come-in", "plug", "watch"), WHY)),
    ],
)
def test_a_title_may_hold_the_words_of_another_change(said: str, command: Command) -> None:
    assert _asked(said) == command


def test_a_task_may_be_named_with_the_words_of_a_move() -> None:
    made = procedure(task("before of", [10], who="EV1"), task("x", [10], who="EV1"), task("y", [10], who="EV1"))
    found = read(Run(made).at(0), "move y before before of of EV1", WHY)
    assert found == ReorderTasks("EV1", ("y", "before of", "x"), WHY)


# Refusals


@pytest.mark.parametrize(
    ("said", "code", "part"),
    [
        ("EV9 loses 15 min", "unknown", "no person “EV9”"),
        ("swap plug and watch of EV9", "unknown", "no person “EV9”"),
        ("fasten/9 takes 40 min", "unknown", "no step “fasten/9”"),
        ("put off photos", "unknown", "no task “photos”"),
        ("swap plug and nothing of EV1", "unknown", "“"),
        ("move photo-survey before plug of EV1", "unknown", "EV1 has no task photo-survey in their list"),
        ("EV2 loses 15", "bad-time", "does not say its unit"),
        ("EV2 loses a while", "bad-time", "is not a duration"),
        ("fasten/1 takes -4 min", "bad-time", "is not a duration"),
        ("", "not-understood", "no change that can be tried"),
        ("   ", "not-understood", "no change that can be tried"),
        ("hurry up", "not-understood", "EV2 loses 15 min"),
        ("x" * 201, "too-long", "200 characters"),
        ("x" * 200, "not-understood", "no change that can be tried"),
    ],
)
def test_what_cannot_be_read_is_refused_in_a_sentence(said: str, code: str, part: str) -> None:
    refusal = _refused(Run(_pump()).at(0), said)
    assert refusal.code == code
    assert part in str(refusal)


def _refused(situation: Situation, *said: str) -> Refusal:
    with pytest.raises(Refusal) as caught:
        what_if(situation, said)
    assert str(caught.value)[0].isupper() or str(caught.value)[0] in "“0123456789"
    assert str(caught.value)[-1] == "."
    return caught.value


def test_what_the_order_would_be_refused_for_is_refused_here_too() -> None:
    situation = Run(_pump()).at(0)
    assert _refused(situation, "put back photo-survey").code == "not-put-off"
    assert _refused(situation, "put off fasten").code == "must-be-done"
    assert _refused(situation, "swap plug and watch of EV1").code == "circle"
    assert _refused(situation, "take sample-tray").code == "not-eligible"
    assert _refused(situation, "fasten/1 takes 100 h").code == "bad-time"
    assert _refused(situation, "fasten/1 takes 30 min").code == "unchanged"


def test_ten_changes_are_enough() -> None:
    situation = Run(_pump()).at(0)
    said = [f"fasten/1 takes {31 + number} min" for number in range(MOST_CHANGES)]
    assert len(what_if(situation, said).changes) == MOST_CHANGES
    refusal = _refused(situation, *said, "fasten/1 takes 1 h")
    assert (refusal.code, str(refusal)) == ("too-long", "At most 10 changes at once.")


def test_somebody_who_has_nothing_left_can_lose_no_time() -> None:
    run = Run(procedure(task("a", [100], who="EV1"), task("b", [300], who="EV2"))).mark(a_1=100)
    assert _refused(run.at(150), "EV1 loses 5 min").code == "not-in-run"


# What follows


def test_nothing_supposed_is_the_situation_itself() -> None:
    situation = Run(_pump()).at(0)
    supposed = what_if(situation, [])
    assert supposed.then is situation
    assert supposed.changes == ()


def test_each_change_sees_what_those_before_it_did() -> None:
    situation = Run(_pump()).at(0)
    supposed = what_if(situation, ["put off photo-survey", "put back photo-survey", "put back swap-lamp"])
    assert supposed.then.projection == situation.projection
    assert set(supposed.changes[0].events[0].tasks) == {"photo-survey", "swap-lamp"}  # type: ignore[union-attr]  # put off
    twice = what_if(situation, ["EV2 loses 5 min", "EV2 loses 10 min"])
    assert twice.commands[1] == ReviseTakes("go-out/1", 25 * 60, WHY)
    assert _refused(situation, "put off photo-survey", "put off swap-lamp").code == "put-off"


def test_the_run_that_is_supposed_is_the_one_that_the_orders_lead_to() -> None:
    run = Run(_pump()).mark(**{"go-out_1": 600})
    said = ["EV2 loses 15 min", "put off swap-lamp", "fasten/1 takes 40 min", "put off photo-survey"]
    before = run.at(700)
    state, log = before.state, list(run.log)
    supposed = what_if(before, said, "ground asks")
    assert before.state is state
    assert before.state == run.at(700).state
    assert run.log == log
    order = MakeChanges(tuple(said), "ground asks")
    really = suppose(before, decide(before, order, 700))
    assert supposed.then.state == really.state
    assert supposed.then.projection == really.projection
    assert run.order(order, 700) == tuple(event for change in supposed.changes for event in change.events)
    assert run.at(700).projection == supposed.then.projection
    assert run.at(700).lists == supposed.then.lists


def test_a_change_says_what_would_stand_in_the_log() -> None:
    change, other = what_if(Run(_pump()).at(0), [" put  off photo-survey", "fasten/1 takes 40 min"]).changes
    assert change.said == "put off photo-survey"
    assert change.words == "Put off: “Photo survey of bay 3”, “Swap the bay 3 lamp”."
    assert other.words.startswith("Takes 40m, plan 30m: “Drive")
    assert not other.words.endswith(WHY)


def _two() -> Procedure:
    return procedure(task("a", [100], who="EV1"), task("b", [100], who="EV1"), task("c", [50], who="EV2"))


def test_time_lost_at_a_step_under_way_is_lost_from_the_finish_that_is_expected_now() -> None:
    over = Run(_two()).at(160)
    assert over.projection.end_s == 260
    then = what_if(over, ["EV1 loses 60 s"]).then
    assert then.projection.end_s == 320
    assert what_if(over, ["EV1 loses 60 s", "EV1 loses 60 s"]).then.projection.end_s == 380
    run = Run(_two())
    run.order(RecordStart("a/1"), 30)
    assert what_if(run.at(40), ["EV1 loses 60 s"]).then.projection.end_s == run.at(40).projection.end_s + 60


def test_time_lost_at_a_step_not_begun_adds_to_what_it_takes() -> None:
    run = Run(_two()).mark(a_1=100)
    run.order(ReviseTakes("b/1", 120, "cold"), 100)
    (change,) = what_if(run.at(100), ["EV1 loses 30 s"]).changes
    assert change.command == ReviseTakes("b/1", 150, WHY)


def test_time_lost_at_a_step_in_its_window_is_lost_as_it_is_without_a_window() -> None:
    """It began in this opening: it does not wait for the next one because it takes longer."""
    made = procedure(task("a", [step(50, within="pass")], who="EV1"), windows={"pass": [(0, 60), (500, 900)]})
    run = Run(made)
    run.order(RecordStart("a/1"), 0)
    assert what_if(run.at(20), ["EV1 loses 30 s"]).then.projection.end_s == 80


def test_nobody_gains_more_than_there_is() -> None:
    run = Run(_two()).mark(a_1=100)
    (change,) = what_if(run.at(150), ["EV1 gains 3 h"]).changes
    assert change.command == ReviseTakes("b/1", 0, WHY)
    assert what_if(run.at(150), ["EV1 gains 3 h"]).then.projection.end_s == 150
    ahead = Run(_two()).at(0)
    assert what_if(ahead, ["EV1 gains 30 s"]).then.projection.end_s == 170
