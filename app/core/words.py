"""What happened, as sentences for the log. It reads events and a procedure and computes nothing."""

from typing import assert_never

from app.core.events import (
    ClockStepped,
    Event,
    GoGiven,
    NoGoGiven,
    NoteAdded,
    RunEnded,
    RunStarted,
    StartRecorded,
    StepAdded,
    StepMarked,
    StepNotNeeded,
    StepReopened,
    TakesRevised,
    TaskPutBack,
    TasksPutOff,
    TasksReordered,
    WorkGivenBack,
    WorkTaken,
)
from app.core.events_progress import (
    ActionsDone,
    ActionsTakenBack,
    CompletionCalled,
    MarkCorrected,
    StepConfirmed,
    ValuesAccepted,
    WarningAcknowledged,
)
from app.core.events_rehearsal import ClockRuled, InjectDone, InjectDropped, InjectSet, PlayersSet
from app.core.procedure import Procedure, StepId, TaskId
from app.core.times import duration
from app.core.words_live import heard_words, progress_sentence, reading_words, watch_sentence
from app.core.words_rehearsal import rehearsal_sentence


def sentence(event: Event, procedure: Procedure) -> str:
    """One line of the log: what happened, with every reason and value that was given."""
    match event:
        case StepMarked() | StepReopened() | StartRecorded() | StepNotNeeded() | GoGiven() | NoGoGiven():
            return _about_step(event, procedure)
        case TasksPutOff() | TaskPutBack() | WorkTaken() | WorkGivenBack():
            return _about_task(event, procedure)
        case TakesRevised() | TasksReordered() | StepAdded():
            return _about_plan(event, procedure)
        case RunStarted(_, kind, zero_utc):
            return f"The run began ({kind}): {procedure.zero or 'zero'}, {zero_utc}"
        case NoteAdded(text, step, person):
            about = step_words(procedure, step) if step else person or "the run"
            return f"Note on {about}: {text}"
        case (
            WarningAcknowledged()
            | ActionsDone()
            | ActionsTakenBack()
            | CompletionCalled()
            | ValuesAccepted()
            | StepConfirmed()
            | MarkCorrected()
        ):
            return progress_sentence(event, procedure, step_words)
        case ClockStepped(step_ms):
            way = "forward" if step_ms > 0 else "back"
            return f"The server's wall clock stepped {way} by {abs(step_ms) / 1000:.3f} s; elapsed time ran on"
        case RunEnded(reason):
            return f"The run ended: {reason}"
        case ClockRuled() | PlayersSet() | InjectSet() | InjectDropped() | InjectDone():
            return rehearsal_sentence(event, procedure, step_words)
        case _:
            return watch_sentence(event, procedure, step_words)


def _about_step(
    event: StepMarked | StepReopened | StartRecorded | StepNotNeeded | GoGiven | NoGoGiven, procedure: Procedure
) -> str:
    step = step_words(procedure, event.step)
    match event:
        case StepMarked(_, values, ordered_because):
            order = f". Ordered by the lead: {ordered_because}" if ordered_because else ""
            return f"Done: {step}{reading_words(procedure.step(event.step), values)}{order}"
        case StepReopened(_, reason, undone, asks_again):
            again = ", ".join(step_words(procedure, hold) for hold in asks_again)
            asked = f". Go is asked again at {again}" if again else ""
            return f"Undone: {step}{asked}" if undone else f"Reopened: {step}. {reason}{asked}"
        case StartRecorded():
            return f"Started: {step}"
        case StepNotNeeded(_, reason):
            return f"Not needed: {step}. {reason}"
        case GoGiven(_, person, lifted_because, heard):
            lifts = f"; lifts the no-go: {lifted_because}" if lifted_because else ""
            return f"{person} is go at {step}{lifts}{heard_words(heard)}"
        case NoGoGiven(_, person, reason, heard):
            return f"{person} is NO-GO at {step}: {reason}{heard_words(heard)}"
        case _:
            assert_never(event)


def _about_task(event: TasksPutOff | TaskPutBack | WorkTaken | WorkGivenBack, procedure: Procedure) -> str:
    match event:
        case TasksPutOff(tasks, reason):
            return f"Put off: {', '.join(task_words(procedure, task) for task in tasks)}. {reason}"
        case TaskPutBack(task, reason):
            return f"Put back: {task_words(procedure, task)}. {reason}"
        case WorkTaken(task, places):
            where = "; ".join(place_words(procedure, person, before) for person, before in places)
            return (
                f"Taken: {task_words(procedure, task)}, {where}" if where else f"Taken: {task_words(procedure, task)}"
            )
        case WorkGivenBack(task):
            return f"Given back: {task_words(procedure, task)}"
        case _:
            assert_never(event)


def _about_plan(event: TakesRevised | TasksReordered | StepAdded, procedure: Procedure) -> str:
    match event:
        case TakesRevised(step, takes_s, reason):
            first = duration(procedure.step(step).takes.likely_s)
            before = "was" if procedure.task(procedure.step(step).task).added else "plan"
            return f"Takes {duration(takes_s)}, {before} {first}: {step_words(procedure, step)}. {reason}"
        case TasksReordered(person, tasks, reason):
            return f"New order for {person}: {', '.join(task_words(procedure, task) for task in tasks)}. {reason}"
        case StepAdded(task, do, _, takes_s, after, places, reason):
            waits = [f"after {_target_words(procedure, *link)}" for link in after]
            where = "; ".join([place_words(procedure, person, before) for person, before in places] + waits)
            return f"Added: “{do}” ({task}/1), {duration(takes_s)}, {where}. {reason}"
        case _:
            assert_never(event)


def _target_words(procedure: Procedure, task: TaskId, number: int | None) -> str:
    return task_words(procedure, task) if number is None else step_words(procedure, f"{task}/{number}")


def steps_waiting(procedure: Procedure, steps: tuple[StepId, ...]) -> str:
    """``A waits for B, which waits for A``: a circle of steps, the first again at the end."""
    first, *others = (step_words(procedure, step) for step in steps)
    return f"{first} waits for {', which waits for '.join(others)}"


def place_words(procedure: Procedure, person: str, before: TaskId | None) -> str:
    """``EV2 before “Photo survey of bay 3”``, or ``EV2 at the end``."""
    return f"{person} at the end" if before is None else f"{person} before {task_words(procedure, before)}"


def task_words(procedure: Procedure, task: TaskId) -> str:
    return f"“{procedure.task(task).title}”"


def step_words(procedure: Procedure, step: StepId) -> str:
    """``“Shut valve V1” (shut-valves/2)``."""
    return f"“{procedure.step(step).do}” ({step})"
