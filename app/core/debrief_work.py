"""Get-ahead items and put-off tasks, what became of each, and what carries over. It only reads."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from app.core.carry import carried_over
from app.core.choices import offers
from app.core.debrief_times import TaskTimes
from app.core.events import Logged, NoteAdded, TaskPutBack, TasksPutOff, WorkGivenBack, WorkTaken
from app.core.fold import fold, happened_s
from app.core.procedure import Designator, TaskId
from app.core.retelling import moves_lead
from app.core.situation import Situation
from app.core.words import sentence

MOST_LOOKS = 24
"""What was on offer is looked up at so many moments, since each look costs as much as a screen. Our own bound."""


@dataclass(frozen=True, slots=True)
class Turn:
    """Something that was decided about a piece of work: when, by whom, in the log's words."""

    at_s: int
    seq: int
    by: str
    what: str
    words: str


@dataclass(frozen=True, slots=True)
class WorkTold:
    """A get-ahead item, or a task that was put off at some time.

    Attributes:
        get_ahead: whether it is one. turns: what was decided about it, in the order of the log.
        start_s, finish_s: when it was begun and done, elapsed seconds; None where it was not.
        offered: the moments looked at at which it might have been taken, elapsed seconds; of `looked` in all.
        fate: what became of it, in words.
    """

    task: TaskId
    title: str
    who: tuple[Designator, ...]
    get_ahead: bool
    turns: tuple[Turn, ...]
    start_s: int | None
    finish_s: int | None
    offered: tuple[int, ...]
    looked: int
    fate: str


@dataclass(frozen=True, slots=True)
class Carried:
    """A task that the run leaves for the next outing: how many of its steps, and why."""

    task: TaskId
    title: str
    steps: int
    why: str


def work_told(situation: Situation, tasks: Sequence[TaskTimes], log: Sequence[Logged]) -> tuple[WorkTold, ...]:
    """Every get-ahead item, and every task that was put off, in file order."""
    turns, looked = _turns(situation, log), _looks(situation, log)
    offered = _offered(situation, log, looked)
    owed = {each.id for each in carried_over(situation.procedure, situation.state)}
    return tuple(
        WorkTold(
            task=times.id,
            title=times.title,
            who=times.who,
            get_ahead=situation.procedure.task(times.id).get_ahead,
            turns=tuple(turns.get(times.id, ())),
            start_s=times.start_s,
            finish_s=times.finish_s,
            offered=tuple(at_s for at_s in looked if times.id in offered[at_s]),
            looked=len(looked),
            fate=_fate(situation, times, turns.get(times.id, []), times.id in owed),
        )
        for times in tasks
        if times.id in turns or situation.procedure.task(times.id).get_ahead
    )


def _looks(situation: Situation, log: Sequence[Logged]) -> tuple[int, ...]:
    """At most MOST_LOOKS of the seconds at which the lead may have changed, evenly chosen; none without such work."""
    if not any(task.get_ahead for task in situation.procedure.tasks) and not situation.state.put_off_together:
        return ()
    ended_s = situation.state.ended_s
    seconds = sorted({happened_s(each) for each in log if moves_lead(each.event) and happened_s(each) != ended_s})
    count = min(MOST_LOOKS, len(seconds))
    return tuple(seconds[place * len(seconds) // count] for place in range(count))


def _offered(situation: Situation, log: Sequence[Logged], looks: Iterable[int]) -> dict[int, frozenset[TaskId]]:
    """For each of these seconds what could be taken then, as the Lead board of that second would show it."""
    acts = [logged for logged in log if not isinstance(logged.event, NoteAdded)]
    shown = {at_s: Situation(situation.prepared, fold(acts, until_s=at_s), at_s) for at_s in looks}
    return {at_s: frozenset(each.task for each in offers(then) if each.eligible) for at_s, then in shown.items()}


def _turns(situation: Situation, log: Iterable[Logged]) -> dict[TaskId, list[Turn]]:
    found: dict[TaskId, list[Turn]] = {}
    for logged in log:
        match logged.event:
            case TasksPutOff(tasks):
                what = "put off"
            case TaskPutBack(task):
                what, tasks = "put back", (task,)
            case WorkTaken(task):
                what, tasks = "taken", (task,)
            case WorkGivenBack(task):
                what, tasks = "given back", (task,)
            case _:
                continue
        turn = Turn(logged.at_s, logged.seq, logged.by, what, sentence(logged.event, situation.procedure))
        for task in tasks:
            found.setdefault(task, []).append(turn)
    return found


def _fate(situation: Situation, times: TaskTimes, turns: Sequence[Turn], owed: bool) -> str:
    """What became of the work; whether it is carried over is told only of work that the run owes."""
    over = situation.state.ended_s is not None
    carried = " and carries over" if owed and over else "; would carry over if the run ended now" if owed else ""
    if times.state == "put off":
        return f"put off{carried}"
    if times.state == "not taken":
        return "given back" if any(turn.what == "given back" for turn in turns) else "not taken"
    if times.state in ("done", "not needed"):
        return times.state
    back = "taken, " if times.id in situation.state.taken else ""
    return f"{back}{'begun, not done' if times.state == 'begun' else 'not begun'}{carried}"


def carried_told(situation: Situation) -> tuple[Carried, ...]:
    """What the run leaves, or would leave if it ended at the situation's second, in the order of the next outing."""
    state = situation.state
    return tuple(
        Carried(
            task.id,
            task.title,
            len(task.steps),
            f"put off: {state.put_off[task.id]}"
            if task.id in state.put_off
            else "begun, not done"
            if state.begun(task.id)
            else "not begun",
        )
        for task in carried_over(situation.procedure, state)
    )
