"""Holds and polls of a run: when each was reached, who answered, how long it waited for whom. It only reads."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from app.core.as_run import AsRunStep
from app.core.events import GoGiven, Logged, NoGoGiven
from app.core.events_watch import PollAnswered
from app.core.procedure import Designator, StepId
from app.core.situation import Situation
from app.core.watch import Answer, Poll


@dataclass(frozen=True, slots=True)
class Said:
    """One answer at a hold or in a poll, also one that a later answer or a reopening has overtaken."""

    person: Designator
    at_s: int
    go: bool
    reason: str
    by: str
    heard: bool


@dataclass(frozen=True, slots=True)
class WaitedFor:
    """How long it was waited for one person: from when all was ready to the go that counts, seconds.

    `go_s`: when that was given; None where it never was, and then the wait lasts to the end of what is told.
    """

    person: Designator
    waited_s: int
    go_s: int | None


@dataclass(frozen=True, slots=True)
class HoldTold:
    """A hold that was reached.

    Attributes:
        reached_s: when what it waited for was done and its own people had come to it.
        done_s: when it was marked; None while it is open.
        waited_s: until the last person was go. waits: for each person, the longest first.
        after_s: from the last go to the mark; None while one of the two is missing.
    """

    step: StepId
    do: str
    who: tuple[Designator, ...]
    reached_s: int
    done_s: int | None
    waited_s: int
    waits: tuple[WaitedFor, ...]
    answers: tuple[Said, ...]

    @property
    def after_s(self) -> int | None:
        goes = [wait.go_s for wait in self.waits]
        if self.done_s is None or None in goes:
            return None
        return self.done_s - max(self.reached_s, *(go_s for go_s in goes if go_s is not None))


@dataclass(frozen=True, slots=True)
class PollTold:
    """A poll; times as in `HoldTold`, counted from when it was called."""

    poll: str
    question: str
    by: str
    called_s: int
    closed_s: int | None
    closed_because: str
    waited_s: int
    waits: tuple[WaitedFor, ...]
    answers: tuple[Said, ...]


def holds_told(situation: Situation, steps: Sequence[AsRunStep], log: Iterable[Logged]) -> tuple[HoldTold, ...]:
    """The holds that were reached, that which waited longest first."""
    said = _by_hold(log)
    found = [
        _hold(situation, number, step, step.start_s, said.get(step.id, ()))
        for number, step in enumerate(steps)
        if situation.network.steps[number].go and step.start_s is not None
    ]
    return tuple(sorted(found, key=lambda hold: (-hold.waited_s, hold.reached_s)))


def _by_hold(log: Iterable[Logged]) -> dict[StepId, tuple[Said, ...]]:
    found: dict[StepId, tuple[Said, ...]] = {}
    for logged in log:
        if isinstance(logged.event, GoGiven | NoGoGiven):
            event, go = logged.event, isinstance(logged.event, GoGiven)
            reason = event.lifted_because or "" if isinstance(event, GoGiven) else event.reason
            told = Said(event.person, logged.at_s, go, reason, logged.by, event.heard)
            found[event.step] = (*found.get(event.step, ()), told)
    return {step: _in_time(answers) for step, answers in found.items()}


def _in_time(answers: Iterable[Said]) -> tuple[Said, ...]:
    return tuple(sorted(answers, key=lambda each: each.at_s))


def _hold(situation: Situation, number: int, step: AsRunStep, reached_s: int, answers: tuple[Said, ...]) -> HoldTold:
    asked = situation.network.steps[number].go
    ends_s = situation.at_s if step.finish_s is None else step.finish_s
    waits = _waits(asked, situation.state.answers.get(step.id, {}), reached_s, ends_s)
    longest_s = max(wait.waited_s for wait in waits)
    return HoldTold(step.id, step.do, step.who, reached_s, step.finish_s, longest_s, waits, answers)


def _waits(
    asked: Iterable[Designator], answers: Mapping[Designator, Answer], from_s: int, ends_s: int
) -> tuple[WaitedFor, ...]:
    found = []
    for person in asked:
        answer = answers.get(person)
        go_s = answer.at_s if answer is not None and answer.go else None
        found.append(WaitedFor(person, max(0, (ends_s if go_s is None else go_s) - from_s), go_s))
    return tuple(sorted(found, key=lambda wait: -wait.waited_s))


def polls_told(situation: Situation, log: Iterable[Logged]) -> tuple[PollTold, ...]:
    """The polls, that which waited longest first."""
    said: dict[str, list[Said]] = {}
    for logged in log:
        if isinstance(logged.event, PollAnswered):
            event = logged.event
            told = Said(event.person, logged.at_s, event.go, event.reason, logged.by, event.heard)
            said.setdefault(event.poll, []).append(told)
    found = [_poll(situation, poll, _in_time(said.get(poll.id, ()))) for poll in situation.state.watch.polls.values()]
    return tuple(sorted(found, key=lambda poll: (-poll.waited_s, poll.called_s)))


def _poll(situation: Situation, poll: Poll, answers: tuple[Said, ...]) -> PollTold:
    ends_s = situation.at_s if poll.closed_s is None else poll.closed_s
    waits = _waits(poll.who, poll.answers, poll.called_s, ends_s)
    longest_s = max((wait.waited_s for wait in waits), default=0)
    return PollTold(
        poll.id, poll.question, poll.by, poll.called_s, poll.closed_s, poll.closed_because, longest_s, waits, answers
    )
