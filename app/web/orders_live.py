"""The orders of a live outing beside marks and planning, as rows for `orders`. It carries nothing out."""

from collections.abc import Callable, Mapping

from app.core.commands import Command
from app.core.commands_live import (
    AcceptValues,
    AcknowledgeWarning,
    AnswerPoll,
    AnswerRound,
    CallPoll,
    ClearFlag,
    ClosePoll,
    ConfirmStep,
    CorrectMark,
    CountAction,
    HandOver,
    MoveTool,
    RaiseFlag,
    StrikeEntry,
    TakeReading,
)
from app.web.said import Said

Row = tuple[tuple[str, ...], Callable[[Said], Command]]


def _poll_answer(said: Said, go: bool) -> AnswerPoll:
    return AnswerPoll(said.poll, said.person, go, said.reason, said.heard)


def _round_answer(said: Said, good: bool) -> AnswerRound:
    return AnswerRound(said.round, said.person or None, good, said.reason, said.readings, said.heard)


def _reading(said: Said) -> TakeReading:
    return TakeReading(said.supply, said.person or None, said.value or 0.0, said.anew, said.heard)


LIVE_ORDERS: Mapping[str, Row] = {
    "acknowledge": (("step", "person"), lambda said: AcknowledgeWarning(said.step, said.person, said.heard)),
    "count": (("step", "number"), lambda said: CountAction(said.step, said.number, said.values)),
    "accept": (("step",), lambda said: AcceptValues(said.step, said.reason)),
    "confirm": (("step", "person"), lambda said: ConfirmStep(said.step, said.person, said.heard)),
    "correct": (("step",), lambda said: CorrectMark(said.step, said.reason, said.values, said.keep_time)),
    "poll": (("text",), lambda said: CallPoll(said.text, said.who)),
    "poll-go": (("poll", "person"), lambda said: _poll_answer(said, True)),
    "poll-no-go": (("poll", "person"), lambda said: _poll_answer(said, False)),
    "close-poll": (("poll",), lambda said: ClosePoll(said.poll, said.reason)),
    "round-good": (("round",), lambda said: _round_answer(said, True)),
    "round-bad": (("round",), lambda said: _round_answer(said, False)),
    "reading": (("supply", "value"), _reading),
    "tool": (
        ("tool", "how"),
        lambda said: MoveTool(said.tool, said.how, said.person or None, said.where, said.reason),
    ),
    "flag": ((), lambda said: RaiseFlag(said.reason, said.step or None, said.person or None)),
    "clear-flag": (("flag",), lambda said: ClearFlag(said.flag, said.reason)),
    "strike": (("entry",), lambda said: StrikeEntry(said.entry, said.reason)),
    "hand-over": (("to",), lambda said: HandOver(said.to, said.reason)),
}
"""Name to what must be sent with it, and the command it makes."""
