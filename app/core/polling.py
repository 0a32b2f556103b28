"""Orders about polls: go or no-go round the room. Each function returns events or refuses. A poll stops no step."""

from typing import assert_never

from app.core.commands import Refusal, joined, said
from app.core.commands_live import AnswerPoll, CallPoll, ClosePoll
from app.core.events import Event
from app.core.events_watch import PollAnswered, PollCalled, PollClosed
from app.core.procedure import Designator
from app.core.situation import Situation
from app.core.times import clock
from app.core.watch import ALL_GO, Poll


def order(situation: Situation, command: CallPoll | AnswerPoll | ClosePoll, at_s: int) -> tuple[Event, ...]:
    """Raises Refusal."""
    match command:
        case CallPoll(question, who):
            return (_call(situation, question, who),)
        case AnswerPoll():
            return _answer(situation, command, at_s)
        case ClosePoll(poll, reason):
            return (_close(situation, poll, reason),)
        case _:
            assert_never(command)


def _call(situation: Situation, question: str, who: tuple[Designator, ...]) -> Event:
    """Everybody is asked where nobody is named. Polls count from 1 within a run."""
    asked = said(question, "Say what is asked, for example “Go for power?”.")
    crew = situation.network.crew
    for person in who:
        if person not in crew:
            raise Refusal("unknown", f"Nobody of this run is called {person[:60]}.")
    people = tuple(person for person in crew if person in who) if who else crew
    if not people:
        raise Refusal("nobody", "This run has no crew that could be asked.")
    return PollCalled(f"poll-{len(situation.state.watch.polls) + 1}", asked, people)


def _answer(situation: Situation, command: AnswerPoll, at_s: int) -> tuple[Event, ...]:
    """The last go closes the poll in the same order."""
    poll = _open(situation, command.poll)
    person = command.person
    if person not in poll.who:
        raise Refusal("not-asked", f"{person[:60]} is not asked in “{poll.question}”; asked are {joined(poll.who)}.")
    if at_s < poll.called_s:
        raise Refusal("before-call", f"“{poll.question}” was asked only at {clock(poll.called_s)}.")
    reason = _reason(poll, command, at_s)
    answered = PollAnswered(poll.id, person, command.go, reason, command.heard)
    if command.go and set(poll.missing) <= {person}:
        return answered, PollClosed(poll.id, ALL_GO)
    return (answered,)


def _reason(poll: Poll, command: AnswerPoll, at_s: int) -> str:
    """Why no-go, or what lifts the no-go that stands; a plain go has none.

    Raises:
        Refusal: it is missing, or the person has said the same already, or something else later than `at_s`.
    """
    person, known = command.person, poll.answers.get(command.person)
    if known is not None and at_s < known.at_s:
        raise Refusal("before-answer", f"{person} answered at {clock(known.at_s)}; this would be before it.")
    if not command.go:
        if known is not None and not known.go:
            raise Refusal("same-answer", f"{person} is no-go already, since {clock(known.at_s)}: {known.reason}.")
        return said(command.reason, "A no-go needs its reason.")
    if known is None:
        return ""
    if known.go:
        raise Refusal("same-answer", f"{person} is go already, since {clock(known.at_s)}.")
    return said(command.reason, f"{person} is no-go: {known.reason}. Say what lifts it.")


def _close(situation: Situation, poll_id: str, reason: str) -> Event:
    poll = _open(situation, poll_id)
    return PollClosed(poll.id, said(reason, f"Not all are go ({joined(poll.missing)}): say why the poll is closed."))


def _open(situation: Situation, poll_id: str) -> Poll:
    poll = situation.state.watch.polls.get(poll_id)
    if poll is None:
        raise Refusal("unknown", f"This run has no poll {poll_id[:60]}.")
    if poll.closed_s is not None:
        raise Refusal("closed", f"“{poll.question}” was closed at {clock(poll.closed_s)}: {poll.closed_because}.")
    return poll
