"""What may be done now: `decide(situation, command, at) -> events`, or a refusal that says why. It stores nothing."""

from typing import assert_never

from app.core import completing, custody, flagging, marking, polling, replanning, rounds, task_orders, training, undoing
from app.core.changes import MOST_CHANGES, read
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
    Refusal,
    ReopenStep,
    ReorderTasks,
    ReviseTakes,
    SetNotNeeded,
    SwapTasks,
    TakeSet,
    TakeWork,
    UndoMark,
    said,
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
    LiveCommand,
    MoveTool,
    RaiseFlag,
    StrikeEntry,
    TakeReading,
)
from app.core.commands_rehearsal import DrawTrouble, DropInject, NoteInjectDone, RuleClock, SetInject, SetPlayers
from app.core.events import (
    Event,
    NoteAdded,
    RunEnded,
)
from app.core.procedure import Designator, StepId
from app.core.situation import Situation
from app.core.suppose import suppose
from app.core.times import clock

HEARD = (
    MarkStep,
    RecordStart,
    AddNote,
    GiveGo,
    GiveNoGo,
    SetNotNeeded,
    AcknowledgeWarning,
    CountAction,
    AcceptValues,
    ConfirmStep,
    CorrectMark,
    AnswerPoll,
    AnswerRound,
    TakeReading,
    MoveTool,
    RaiseFlag,
)
"""What is called on the loop and may be heard late. All else is an order, and is given at the moment it is entered."""


def decide(situation: Situation, command: Command, at_s: int) -> tuple[Event, ...]:
    """The events that carry out `command` at elapsed second `at_s`, given the situation now.

    Raises:
        Refusal: it may not be done; nothing happened.
    """
    _timely(situation, command, at_s)
    match command:
        case MarkStep():
            return completing.mark(situation, command, at_s)
        case UndoMark(step):
            return undoing.undo(situation, step)
        case ReopenStep() | RecordStart() | SetNotNeeded():
            return marking.step_order(situation, command, at_s)
        case GiveGo() | GiveNoGo():
            return marking.answer(situation, command, at_s)
        case PutOff() | PutBack() | TakeWork() | GiveBackWork() | PutOffSet() | PutBackSet() | TakeSet():
            return task_orders.order(situation, command)
        case ReviseTakes() | ReorderTasks() | SwapTasks() | AddStep():
            return replanning.replan(situation, command)
        case AddNote(text, step, person):
            _known(situation, step, person)
            return (NoteAdded(said(text, "Write the note first."), step, person),)
        case EndRun(reason):
            custody.all_accounted_for(situation)
            return (RunEnded(said(reason, "Say why or how the run ends.")),)
        case MakeChanges():
            return _changes(situation, command)
        case RuleClock() | SetPlayers() | SetInject() | DrawTrouble() | DropInject() | NoteInjectDone():
            return training.order(situation, command)
        case _:
            return _live(situation, command, at_s)


def _live(situation: Situation, command: LiveCommand, at_s: int) -> tuple[Event, ...]:
    match command:
        case AcknowledgeWarning() | CountAction() | AcceptValues() | ConfirmStep() | CorrectMark():
            return completing.order(situation, command, at_s)
        case CallPoll() | AnswerPoll() | ClosePoll():
            return polling.order(situation, command, at_s)
        case AnswerRound() | TakeReading():
            return rounds.order(situation, command)
        case MoveTool():
            return custody.move(situation, command, at_s)
        case RaiseFlag() | ClearFlag() | StrikeEntry() | HandOver():
            return flagging.order(situation, command)
        case _:
            assert_never(command)


def _timely(situation: Situation, command: Command, at_s: int) -> None:
    if situation.state.ended_s is not None:
        raise Refusal("ended", f"The run ended at {clock(situation.state.ended_s)}; nothing can be added to it.")
    if at_s > situation.at_s:
        raise Refusal("future", f"{clock(at_s)} has not come yet: it is {clock(situation.at_s)} now.")
    if at_s < 0:
        raise Refusal("too-early", "That is before the run began.")
    if at_s < situation.at_s and not isinstance(command, HEARD):
        raise Refusal("not-late", "Only what was called can be entered late; this order is given now.")


def _changes(situation: Situation, command: MakeChanges) -> tuple[Event, ...]:
    if not 1 <= len(command.said) <= MOST_CHANGES:
        raise Refusal("incomplete", f"From 1 to {MOST_CHANGES} changes can be made at once.")
    reason = said(command.reason, "Say why this is done.")
    events: list[Event] = []
    for place, text in enumerate(command.said, start=1):
        try:
            new = decide(situation, read(situation, text, reason), situation.at_s)
        except Refusal as refusal:
            which = f"Change {place} of {len(command.said)}: " if len(command.said) > 1 else ""
            raise Refusal(refusal.code, f"{which}{refusal}") from refusal
        events += new
        situation = suppose(situation, new)
    return tuple(events)


def _known(situation: Situation, step: StepId | None, person: Designator | None) -> None:
    if step is not None:
        marking.find(situation, step)
    if person is not None and person not in situation.network.crew:
        raise Refusal("unknown", f"Nobody of this run is called {person}.")
