"""Go or no-go round the room: who may answer when, what a no-go needs, and when a poll is over."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.commands import Command, EndRun, MarkStep, Refusal
from app.core.commands_live import AnswerPoll, CallPoll, ClosePoll
from app.core.events_watch import PollAnswered, PollCalled, PollClosed
from app.core.fold import fold
from app.core.watch import ALL_GO, Poll
from tests.core.building import procedure, task
from tests.core.running import Run

CREW = ("EV1", "EV2", "ARM")
ROOM = procedure(task("a", who="EV1"), task("b", who="EV2"), task("c", who="ARM"), crew=CREW)
POWER = CallPoll("Go for power?")


def _called(*who: str) -> Run:
    run = Run(ROOM)
    run.order(CallPoll("Go for power?", who), 100)
    return run


def _refused(run: Run, command: Command, now_s: int, code: str, words: str, at_s: int | None = None) -> None:
    before = len(run.log)
    with pytest.raises(Refusal, match=words) as refusal:
        run.order(command, now_s, at_s)
    assert refusal.value.code == code
    assert len(run.log) == before


def _poll(run: Run, name: str = "poll-1") -> Poll:
    return run.state.watch.polls[name]


def test_a_poll_asks_everybody_where_nobody_is_named_and_else_those_named_in_the_order_of_the_crew() -> None:
    run = Run(ROOM)
    assert run.order(POWER, 100) == (PollCalled("poll-1", "Go for power?", CREW),)
    assert run.order(CallPoll(" Go again? ", ("ARM", "EV1")), 110) == (
        PollCalled("poll-2", "Go again?", ("EV1", "ARM")),
    )
    assert [poll.id for poll in run.state.watch.open_polls] == ["poll-1", "poll-2"]


def test_a_poll_needs_a_question_and_people_of_the_crew() -> None:
    run = Run(ROOM)
    _refused(run, CallPoll("  "), 10, "no-reason", "Say what is asked")
    _refused(run, CallPoll("Go?", ("EV1", "EV9")), 10, "unknown", "EV9")
    _refused(Run(procedure(task("a"))), POWER, 10, "nobody", "no crew")


def test_a_poll_is_called_now_and_never_late() -> None:
    _refused(Run(ROOM), POWER, 100, "not-late", "given now", at_s=90)


def test_the_last_go_closes_the_poll_and_an_earlier_one_does_not() -> None:
    run = _called("EV1", "EV2")
    assert run.order(AnswerPoll("poll-1", "EV2", True, heard=True), 110) == (
        PollAnswered("poll-1", "EV2", True, "", True),
    )
    assert _poll(run).missing == ("EV1",)
    assert run.order(AnswerPoll("poll-1", "EV1", True), 120) == (
        PollAnswered("poll-1", "EV1", True),
        PollClosed("poll-1", ALL_GO),
    )
    assert (_poll(run).closed_s, _poll(run).closed_because) == (120, ALL_GO)


def test_a_no_go_needs_a_reason_and_stands_until_a_go_says_what_lifts_it() -> None:
    run = _called("EV1", "EV2")
    _refused(run, AnswerPoll("poll-1", "EV1", False), 110, "no-reason", "needs its reason")
    run.order(AnswerPoll("poll-1", "EV1", False, "hot wrist"), 110)
    run.order(AnswerPoll("poll-1", "EV2", True), 111)
    assert _poll(run).closed_s is None
    _refused(
        run, AnswerPoll("poll-1", "EV1", True, " "), 120, "no-reason", "EV1 is no-go: hot wrist. Say what lifts it"
    )
    run.order(AnswerPoll("poll-1", "EV1", True, "it has cooled"), 130)
    assert _poll(run).answers["EV1"].reason == "it has cooled"
    assert _poll(run).closed_because == ALL_GO


def test_a_go_can_become_a_no_go_while_the_poll_is_open() -> None:
    run = _called("EV1", "EV2")
    run.order(AnswerPoll("poll-1", "EV1", True, "a go needs no reason, and keeps none"), 110)
    assert _poll(run).answers["EV1"].reason == ""
    run.order(AnswerPoll("poll-1", "EV1", False, "a leak"), 120)
    assert _poll(run).missing == ("EV1", "EV2")


@pytest.mark.parametrize(("go", "word"), [(True, "is go already"), (False, "is no-go already")])
def test_the_same_answer_twice_is_refused(go: bool, word: str) -> None:
    run = _called("EV1", "EV2")
    run.order(AnswerPoll("poll-1", "EV1", go, "wind"), 110)
    _refused(run, AnswerPoll("poll-1", "EV1", go, "wind"), 120, "same-answer", word)


def test_only_who_is_asked_answers_and_only_a_poll_that_was_called() -> None:
    run = _called("EV1", "EV2")
    _refused(run, AnswerPoll("poll-1", "ARM", True), 110, "not-asked", "asked are EV1 and EV2")
    _refused(run, AnswerPoll("poll-7", "EV1", True), 110, "unknown", "no poll poll-7")
    _refused(run, ClosePoll("poll-7", "late"), 110, "unknown", "no poll poll-7")


def test_an_answer_may_be_entered_late_but_not_from_before_the_call_or_before_what_the_person_said_since() -> None:
    run = _called("EV1", "EV2")
    _refused(run, AnswerPoll("poll-1", "EV1", True), 130, "before-call", "asked only at 00:01:40", at_s=99)
    run.order(AnswerPoll("poll-1", "EV1", False, "wind"), 130, at_s=120)
    _refused(run, AnswerPoll("poll-1", "EV1", True, "calm"), 140, "before-answer", "before it", at_s=119)
    assert _poll(run).answers["EV1"].at_s == 120


def test_a_closed_poll_takes_no_answer_not_even_a_late_one_and_is_not_closed_again() -> None:
    run = _called("EV1", "EV2")
    run.order(AnswerPoll("poll-1", "EV1", True), 110)
    _refused(run, ClosePoll("poll-1", ""), 120, "no-reason", r"Not all are go \(EV2\)")
    run.order(ClosePoll("poll-1", "EV2 has no voice"), 120)
    _refused(run, AnswerPoll("poll-1", "EV2", True), 130, "closed", "closed at 00:02:00: EV2 has no voice", at_s=115)
    _refused(run, ClosePoll("poll-1", "again"), 130, "closed", "closed at 00:02:00")
    assert _poll(run).missing == ("EV2",)


def test_a_poll_that_a_late_go_closed_was_closed_when_the_last_of_them_was_given() -> None:
    run = _called("EV1", "EV2")
    run.order(AnswerPoll("poll-1", "EV2", True), 150)
    run.order(AnswerPoll("poll-1", "EV1", True), 160, at_s=110)
    assert _poll(run).closed_s == 150
    assert fold(run.log, until_s=149).watch.polls["poll-1"].closed_s is None
    assert fold(run.log, until_s=150).watch.polls["poll-1"].closed_s == 150


def test_an_open_poll_stops_no_mark_and_no_end_of_the_run() -> None:
    run = _called()
    run.order(AnswerPoll("poll-1", "EV1", False, "not yet"), 101)
    run.order(MarkStep("a/1"), 110)
    run.order(EndRun("called in"), 120)
    assert (list(run.state.done), run.state.ended_s) == (["a/1"], 120)


ORDERS = st.one_of(
    st.builds(CallPoll, st.sampled_from(["Go?", ""]), st.lists(st.sampled_from(CREW), max_size=2).map(tuple)),
    st.builds(
        AnswerPoll,
        st.sampled_from(["poll-1", "poll-1", "poll-2"]),
        st.sampled_from(CREW),
        st.booleans(),
        st.sampled_from(["", "wind", "calm"]),
    ),
    st.builds(ClosePoll, st.sampled_from(["poll-1", "poll-2"]), st.sampled_from(["", "enough"])),
)


@settings(deadline=None)
@given(told=st.lists(st.tuples(ORDERS, st.integers(0, 30), st.integers(0, 40)), max_size=25))
def test_whatever_is_ordered_a_poll_closes_once_and_all_go_means_all_go(told: list[tuple[Command, int, int]]) -> None:
    run, now_s = Run(ROOM), 0
    for command, later_s, late_s in told:
        now_s += later_s
        length = len(run.log)
        try:
            run.order(command, now_s, max(0, now_s - late_s) if isinstance(command, AnswerPoll) else now_s)
        except Refusal:
            assert len(run.log) == length
        for poll in run.state.watch.polls.values():
            closings = [each for each in run.log if isinstance(each.event, PollClosed) and each.event.poll == poll.id]
            assert len(closings) == (poll.closed_s is not None)
            assert (poll.closed_because == ALL_GO) is (not poll.missing)
            assert all(poll.called_s <= answer.at_s for answer in poll.answers.values())
            assert all(answer.go or answer.reason for answer in poll.answers.values())
    for second in {each.at_s for each in run.log}:
        for poll in fold(run.log, until_s=second).watch.polls.values():
            assert not (poll.closed_because == ALL_GO and poll.missing)
