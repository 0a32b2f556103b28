"""Which right each order needs: a table over all commands. `access` holds the requests to it."""

from collections.abc import Mapping

from app.core.commands import (
    AddNote,
    AddStep,
    Command,
    EndRun,
    GiveBackWork,
    GiveGo,
    GiveNoGo,
    MakeChanges,
    MarkStep,
    PutBack,
    PutBackSet,
    PutOff,
    PutOffSet,
    RecordStart,
    ReopenStep,
    ReorderTasks,
    ReviseTakes,
    SetNotNeeded,
    SwapTasks,
    TakeSet,
    TakeWork,
    UndoMark,
)
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
from app.core.commands_rehearsal import DrawTrouble, DropInject, NoteInjectDone, RuleClock, SetInject, SetPlayers

ORDERS: Mapping[str, tuple[type[Command], ...]] = {
    "mark": (
        *(MarkStep, UndoMark, ReopenStep, RecordStart, AddNote, GiveGo, GiveNoGo),
        *(AcknowledgeWarning, CountAction, ConfirmStep, CorrectMark, CallPoll, AnswerPoll, AnswerRound, TakeReading),
        *(MoveTool, RaiseFlag, ClearFlag, StrikeEntry, HandOver),
    ),
    "lead": (
        *(SetNotNeeded, PutOff, PutBack, TakeWork, PutOffSet, PutBackSet, TakeSet, GiveBackWork, ReviseTakes),
        *(ReorderTasks, SwapTasks, AddStep, EndRun, MakeChanges, AcceptValues, ClosePoll),
    ),
    "train": (RuleClock, SetPlayers, SetInject, DrawTrouble, DropInject, NoteInjectDone),
}
"""The least right that an order needs, by any page or the API. A mark against what stands in its way is the lead's."""


def order_needs(command: Command) -> str:
    """The least right for an order."""
    if isinstance(command, MarkStep) and command.ordered_because is not None:
        return "lead"
    return next(right for right, commands in ORDERS.items() if isinstance(command, commands))
