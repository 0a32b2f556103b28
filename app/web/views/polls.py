"""Polls and the holds that wait now, for Desk, Lead board and My list. It carries nothing out."""

from dataclasses import dataclass

from app.core.commands import joined
from app.core.procedure import Designator, Step, StepId
from app.core.situation import Situation, StepState
from app.core.times import clock
from app.core.watch import Answer, Poll
from app.web.keys import NewKey
from app.web.views.step_progress import Caller, Press, caller, said_words


@dataclass(frozen=True, slots=True)
class LiftRow:
    """A no-go in a poll that can be lifted here, with what lifts it."""

    person: Designator
    do: str
    label: str
    key: str


@dataclass(frozen=True, slots=True)
class PollRow:
    """An open poll. `may_refuse`: whose no-go can be entered here; `refuses` is what that button says."""

    id: str
    question: str
    called: str
    words: str
    callers: tuple[Caller, ...]
    goes: tuple[Press, ...]
    lifts: tuple[LiftRow, ...]
    may_refuse: tuple[Designator, ...]
    refuses: str
    key: str
    key_no_go: str
    key_close: str


@dataclass(frozen=True, slots=True)
class WaitingHold:
    """A hold that waits now: since when, and for whom."""

    step: StepId
    who: str
    text: str
    since: str
    words: str


@dataclass(frozen=True, slots=True)
class Polls:
    """`last`: how the poll that was closed last ended, in words; empty before the first."""

    polls: tuple[PollRow, ...]
    holds: tuple[WaitingHold, ...]
    last: str
    crew: tuple[Designator, ...]
    key: str


def polls(situation: Situation, person: Designator | None, new_key: NewKey) -> Polls:
    """`person`: of whose list; they see the polls that ask them. None: a page of the whole team."""
    asking = [poll for poll in situation.state.watch.open_polls if person is None or person in poll.who]
    return Polls(
        polls=tuple(_row(poll, person, new_key) for poll in asking),
        holds=waiting_holds(situation) if person is None else (),
        last=_last(situation) if person is None else "",
        crew=situation.network.crew,
        key=new_key(),
    )


def _row(poll: Poll, own: Designator | None, new_key: NewKey) -> PollRow:
    callers = tuple(caller(person, poll.answers.get(person), "poll-go", own) for person in poll.who)
    standing = {each.person for each in callers if each.said == "no-go"}
    return PollRow(
        id=poll.id,
        question=poll.question,
        called=f"{clock(poll.called_s)} by {poll.by}",
        words=poll_words(poll),
        callers=callers,
        goes=tuple(each.press for each in callers if each.press),
        lifts=tuple(LiftRow(each.person, each.lifts.do, each.lifts.label, new_key()) for each in callers if each.lifts),
        may_refuse=tuple(person for person in poll.who if own in (None, person) and person not in standing),
        refuses="Enter the no-go" if own is None else "I am no-go",
        key=new_key(),
        key_no_go=new_key(),
        key_close=new_key(),
    )


def poll_words(poll: Poll) -> str:
    """``waiting for EV1 and GROUND; ARM is NO-GO``."""
    silent = tuple(person for person in poll.missing if person not in poll.answers)
    against = tuple(person for person in poll.missing if person in poll.answers)
    said = [f"waiting for {joined(silent)}"] if silent else []
    if against:
        said.append(f"{joined(against)} {'is' if len(against) == 1 else 'are'} NO-GO")
    return "; ".join(said)


def answers_words(poll: Poll) -> str:
    """Everybody's answer in a few words: ``EV1 go; ARM NO-GO: wind``, for the handover and the last poll."""
    return "; ".join(f"{person} {_short(poll.answers.get(person))}" for person in poll.who)


def _short(answer: Answer | None) -> str:
    if answer is None:
        return "no answer"
    return "go" if answer.go else f"NO-GO: {answer.reason}"


def _last(situation: Situation) -> str:
    closed = [(poll.closed_s, poll) for poll in situation.state.watch.polls.values() if poll.closed_s is not None]
    if not closed:
        return ""
    closed_s, poll = max(closed, key=lambda each: each[0])
    why = poll.closed_because if not poll.missing else f"{poll.closed_because} ({answers_words(poll)})"
    return f"Last poll, closed {clock(closed_s)}: {poll.question} {why}"


def waiting_holds(situation: Situation) -> tuple[WaitingHold, ...]:
    """The holds that are reached and not yet go, in file order."""
    return tuple(
        _waiting(situation, number, step)
        for number, step in enumerate(situation.network.steps)
        if step.go and situation.states[number] is StepState.UNDER_WAY and situation.missing_go(step)
    )


def _waiting(situation: Situation, number: int, step: Step) -> WaitingHold:
    missing = situation.missing_go(step)
    answers = situation.state.answers.get(step.id, {})
    silent = tuple(person for person in missing if person not in answers)
    said = [f"asked since then: {joined(silent)}"] if silent else []
    said += [f"{person} {said_words(answers[person])}" for person in missing if person in answers]
    return WaitingHold(
        step=step.id,
        who=" and ".join(step.who) or "Nobody",
        text=step.do,
        since=clock(situation.projection.times(number)[0]),
        words="; ".join(said),
    )
