"""Flags, wrong entries and the change of shift: what each needs, and what a past moment shows of it."""

from dataclasses import replace

import pytest

from app.core.commands import LONGEST_TEXT, Command, EndRun, Refusal
from app.core.commands_live import AnswerRound, ClearFlag, HandOver, RaiseFlag, StrikeEntry, TakeReading
from app.core.events_watch import EntryStruck, FlagCleared, FlagRaised, ShiftHandedOver
from app.core.flagging import LONGEST_NAME, counting_entries
from app.core.fold import fold
from app.core.procedure import Round, Supply
from app.core.watch import Flag
from tests.core.building import procedure, task
from tests.core.running import Run

OUTING = replace(
    procedure(task("a", who="EV1"), crew=("EV1", "EV2")),
    rounds=(Round("gloves", "Any damage?", ("EV1", "EV2"), 3600),),
    supplies=(Supply("battery", ("EV1", "EV2"), "%", 12),),
)


def _refused(run: Run, command: Command, code: str, words: str, at_s: int | None = None) -> None:
    before = len(run.log)
    with pytest.raises(Refusal, match=words) as refusal:
        run.order(command, 100, at_s)
    assert refusal.value.code == code
    assert len(run.log) == before


def _flags(run: Run) -> list[Flag]:
    return list(run.state.watch.flags.values())


def test_a_flag_is_about_the_run_a_person_or_a_step_and_stands_until_it_is_cleared() -> None:
    run = Run(OUTING)
    assert run.order(RaiseFlag(" smoke "), 10) == (FlagRaised("smoke"),)
    run.order(RaiseFlag("cold hands", None, "EV1"), 20)
    run.order(RaiseFlag("rail is bent", "a/1"), 40, 30)
    assert [(each.seq, each.at_s, each.text) for each in _flags(run)] == [
        (2, 10, "smoke"),
        (3, 20, "cold hands"),
        (4, 30, "rail is bent"),
    ]
    assert run.order(ClearFlag(3, "warmed up"), 50) == (FlagCleared(3, "warmed up"),)
    assert [each.seq for each in _flags(run)] == [2, 4]
    assert 3 in fold(run.log, until_s=49).watch.flags


def test_a_flag_needs_words_and_something_of_this_run() -> None:
    run = Run(OUTING)
    _refused(run, RaiseFlag(" "), "no-reason", "Say what the flag is about")
    _refused(run, RaiseFlag("x", "a/9"), "unknown", "no step a/9")
    _refused(run, RaiseFlag("x", None, "EV9"), "unknown", "EV9")
    _refused(run, RaiseFlag("x" * (LONGEST_TEXT + 1)), "too-long", "2,000")


def test_clearing_needs_a_reason_a_flag_that_stands_and_the_present_moment() -> None:
    run = Run(OUTING)
    run.order(RaiseFlag("smoke"), 10)
    _refused(run, ClearFlag(2, ""), "no-reason", "why the flag is cleared")
    _refused(run, ClearFlag(1, "no flag"), "unknown", "No flag stands from entry 1")
    _refused(run, ClearFlag(2, "early"), "not-late", "given now", at_s=90)
    run.order(ClearFlag(2, "it was steam"), 20)
    _refused(run, ClearFlag(2, "again"), "unknown", "cleared, or never raised")


def test_a_bad_answer_at_a_round_is_a_flag_that_is_cleared_like_any_other() -> None:
    run = Run(OUTING)
    run.order(AnswerRound("gloves", "EV1", False, "a cut"), 10)
    (flag,) = _flags(run)
    assert (flag.round, flag.person, flag.text) == ("gloves", "EV1", "a cut")
    run.order(ClearFlag(flag.seq, "taped"), 20)
    assert _flags(run) == []
    assert run.state.watch.rounds["gloves"]["EV1"][0].good is False


def test_a_struck_answer_takes_its_flag_along_and_the_round_is_as_if_it_was_not_made() -> None:
    run = Run(OUTING)
    run.order(AnswerRound("gloves", "EV1", False, "a cut"), 10)
    assert run.order(StrikeEntry(2, "it was EV2"), 20) == (EntryStruck(2, "it was EV2"),)
    assert _flags(run) == []
    assert run.state.watch.rounds["gloves"]["EV1"] == ()
    assert 2 in fold(run.log, until_s=19).watch.flags


def test_only_readings_and_answers_that_count_can_be_struck_out() -> None:
    run = Run(OUTING)
    run.order(RaiseFlag("smoke"), 5)
    run.order(TakeReading("battery", "EV1", 80), 10)
    run.order(TakeReading("battery", "EV1", 8), 20)
    assert counting_entries(run.at(20)) == {3, 4}
    _refused(run, StrikeEntry(2, "no"), "unknown", "Entry 2 is no reading")
    _refused(run, StrikeEntry(99, "no"), "unknown", "Entry 99 is no reading")
    _refused(run, StrikeEntry(4, " "), "no-reason", "why the entry is struck out")
    run.order(StrikeEntry(4, "it was 78"), 30)
    _refused(run, StrikeEntry(4, "again"), "unknown", "Entry 4 is no reading")
    assert [each.value for each in run.state.watch.readings["battery"]["EV1"]] == [80]


def test_a_shift_is_handed_over_to_somebody_with_or_without_words() -> None:
    run = Run(OUTING)
    assert run.order(HandOver(" Mats ", " mind the rail "), 10) == (ShiftHandedOver("Mats", "mind the rail"),)
    assert run.order(HandOver("Noor", "  "), 20) == (ShiftHandedOver("Noor", ""),)
    _refused(run, HandOver(" ", "x"), "no-reason", "who takes over")
    _refused(run, HandOver("M" * (LONGEST_NAME + 1), ""), "bad-name", "60 characters")
    _refused(run, HandOver("Ma\u200bts", ""), "bad-name", "printable")
    _refused(run, HandOver("Mats", "x" * (LONGEST_TEXT + 1)), "too-long", "2,000")


@pytest.mark.parametrize("command", [RaiseFlag("x"), ClearFlag(2, "x"), StrikeEntry(3, "x"), HandOver("Mats", "")])
def test_nothing_is_flagged_cleared_struck_or_handed_over_once_the_run_has_ended(command: Command) -> None:
    run = Run(OUTING)
    run.order(AnswerRound("gloves", "EV1", False, "a cut"), 10)
    run.order(EndRun("in"), 20)
    _refused(run, command, "ended", "ended")
