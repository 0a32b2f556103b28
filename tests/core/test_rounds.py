"""When rounds are due, what an answer does, and what a reading must be."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.commands import EndRun, Refusal
from app.core.commands_live import AnswerRound, StrikeEntry, TakeReading
from app.core.events_watch import ReadingTaken, RoundAnswered
from app.core.rounds import RoundPhase, RoundState, near_s, round_states
from tests.core.running import Run
from tests.core.station import GLOVES, SKY, STATION


def of(run: Run, name: str, person: str, at_s: int) -> RoundState:
    found = [each for each in round_states(run.at(at_s)) if (each.round.name, each.person) == (name, person)]
    assert len(found) == 1
    return found[0]


def good(person: str = "EV1", **more: object) -> AnswerRound:
    return AnswerRound("gloves", person, True, **more)  # type: ignore[arg-type] # the fields of an answer


def refusal(run: Run, command: AnswerRound | TakeReading, now_s: int = 100) -> Refusal:
    with pytest.raises(Refusal) as caught:
        run.order(command, now_s)
    return caught.value


def test_a_round_is_due_once_for_each_of_its_people_the_first_one_first() -> None:
    states = round_states(Run(STATION).at(0))
    assert [(each.round.name, each.person, each.due_s) for each in states] == [
        ("sky", "", 600),
        ("gloves", "EV1", 3600),
        ("gloves", "EV2", 3600),
    ]


@pytest.mark.parametrize(
    ("at_s", "phase"),
    [(3299, "later"), (3300, "soon"), (3599, "soon"), (3600, "due"), (3900, "due"), (3901, "overdue")],
)
def test_a_round_of_an_hour_is_announced_five_minutes_before_and_overdue_five_after(at_s: int, phase: str) -> None:
    assert of(Run(STATION), "gloves", "EV1", at_s).phase == phase


def test_a_round_of_ten_minutes_is_near_for_one() -> None:
    assert near_s(SKY) == 60
    assert near_s(GLOVES) == 300


@given(st.lists(st.integers(0, 40_000), max_size=6), st.integers(0, 60_000))
def test_every_answer_moves_the_next_one_to_its_own_time_plus_the_interval(answers: list[int], more_s: int) -> None:
    run = Run(STATION)
    for at_s in sorted(answers):
        run.order(good(), at_s)
    now_s = max([0, *answers]) + more_s
    assert of(run, "gloves", "EV1", now_s).due_s == max([0, *answers]) + 3600
    assert of(run, "gloves", "EV2", now_s).due_s == 3600


@given(st.integers(1, 10_000), st.integers(0, 30_000))
def test_the_phases_follow_one_another_without_a_gap(every_s: int, at_s: int) -> None:
    one = replace(GLOVES, every_s=every_s)
    run = Run(replace(STATION, rounds=(one,)))
    order = list(RoundPhase)
    now, then = of(run, "gloves", "EV1", at_s).phase, of(run, "gloves", "EV1", at_s + 1).phase
    assert order.index(then) >= order.index(now)
    assert (now in (RoundPhase.DUE, RoundPhase.OVERDUE)) == (at_s >= every_s)


def test_an_answer_heard_late_stands_before_one_that_is_there_already() -> None:
    run = Run(STATION)
    run.order(good(answer="fine"), 3700)
    run.order(AnswerRound("gloves", "EV1", False, "a cut"), 3800, 1800)
    state = of(run, "gloves", "EV1", 3800)
    assert state.last is not None
    assert (state.last.answer, state.due_s) == ("fine", 7300)


def test_a_bad_answer_needs_words_and_raises_a_flag() -> None:
    run = Run(STATION)
    assert refusal(run, AnswerRound("gloves", "EV1", False, "  ")).code == "no-reason"
    run.order(AnswerRound("gloves", "EV1", False, "a cut", heard=True), 100)
    (flag,) = run.state.watch.flags.values()
    assert (flag.text, flag.person, flag.round, flag.at_s) == ("a cut", "EV1", "gloves", 100)


def test_gauges_read_at_a_round_are_readings_of_the_same_moment() -> None:
    run = Run(STATION)
    events = run.order(good(readings=(("battery", 81.0), ("gas", 90.0))), 3600)
    assert events == (
        RoundAnswered("gloves", "EV1", True),
        ReadingTaken("battery", "EV1", 81.0),
        ReadingTaken("gas", None, 90.0),
    )


def test_what_is_not_in_the_file_is_refused_by_name() -> None:
    run = Run(STATION)
    assert "gloves and sky" in str(refusal(run, AnswerRound("boots", "EV1", True)))
    assert "EV1 and EV2" in str(refusal(run, AnswerRound("gloves", "GROUND", True)))
    assert "EV1 and EV2" in str(refusal(run, AnswerRound("gloves", None, True)))
    assert refusal(run, AnswerRound("sky", "EV1", True)).code == "not-asked"
    assert "no supply oil" in str(refusal(run, TakeReading("oil", None, 3)))
    assert refusal(run, TakeReading("battery", "GROUND", 3)).code == "not-asked"
    assert refusal(run, TakeReading("battery", "EV1", float("nan"))).code == "not-a-number"
    assert refusal(run, TakeReading("battery", "EV1", 1.1e12)).code == "not-a-number"
    assert refusal(run, good(readings=(("oil", 1.0),))).code == "unknown"
    assert refusal(run, good(readings=(("gas", 1.0), ("gas", 2.0)))).code == "twice"
    assert refusal(run, AnswerRound("sky", None, True, readings=(("battery", 1.0),))).code == "not-asked"
    assert run.log[1:] == []


def test_a_struck_answer_counts_no_more_and_takes_its_flag_along() -> None:
    run = Run(STATION)
    run.order(good(), 1000)
    run.order(AnswerRound("gloves", "EV1", False, "a cut"), 4600)
    run.order(StrikeEntry(len(run.log), "it was EV2"), 4700)
    assert of(run, "gloves", "EV1", 4700).due_s == 4600
    assert run.state.watch.flags == {}


def test_no_round_is_due_once_the_run_has_ended() -> None:
    run = Run(STATION)
    run.order(EndRun("hatch shut"), 5000)
    assert round_states(run.at(9000)) == ()
