"""The debrief of a run: planned against actual, where the lead went, what was waited for, decided and left.

A function of (procedure, log, end). Each part has a module of its own; this one puts them together.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from app.core.as_run import AsRunStep
from app.core.debrief_again import worked
from app.core.debrief_decisions import Decision, Known, decisions
from app.core.debrief_holds import HoldTold, PollTold, holds_told, polls_told
from app.core.debrief_times import PersonTimes, TaskTimes, person_times, task_times
from app.core.debrief_watch import GaugeTold, RoundTold, ToolTold, gauges_told, rounds_told, tools_told
from app.core.debrief_work import Carried, WorkTold, carried_told, work_told
from app.core.events import Logged, NoteAdded
from app.core.events_rehearsal import InjectDone, InjectSet
from app.core.events_watch import FlagCleared, FlagRaised, RoundAnswered
from app.core.fold import fold
from app.core.lead_moves import LeadMove, LeadStory, lead_story
from app.core.lead_so_far import LeadPoint, changes
from app.core.lead_way import Way
from app.core.procedure import Designator, Procedure, StepId
from app.core.situation import Prepared, Situation
from app.core.words import sentence, step_words
from app.core.words_rehearsal import inject_words

AROUND_S = 300
"""A note on the run or a person is told beside a change of the lead if it is no further from it. Our own, no source."""


@dataclass(frozen=True, slots=True)
class Remark:
    """A note, a flag, a bad answer at a round, or trouble, in the log's words. `step`, `person`: whom it is about."""

    at_s: int
    seq: int
    by: str
    words: str
    step: StepId | None
    person: Designator | None


@dataclass(frozen=True, slots=True)
class Debrief:
    """All that is told of a run up to elapsed second `at_s`, which is its end where `ended` is set.

    `plan_finish_s`, `limit_s`: elapsed seconds; no limit is None. `at_end`: lead, finish and room there.
    `points`: the leads at every second at which one of them turns.
    """

    at_s: int
    ended: bool
    end_reason: str
    plan_finish_s: int
    limit_s: int | None
    limit_words: str
    at_end: Known
    steps: tuple[AsRunStep, ...]
    tasks: tuple[TaskTimes, ...]
    people: tuple[PersonTimes, ...]
    lead: LeadStory
    points: tuple[LeadPoint, ...]
    holds: tuple[HoldTold, ...]
    polls: tuple[PollTold, ...]
    work: tuple[WorkTold, ...]
    carried: tuple[Carried, ...]
    rounds: tuple[RoundTold, ...]
    gauges: tuple[GaugeTold, ...]
    tools: tuple[ToolTold, ...]
    decisions: tuple[Decision, ...]
    remarks: tuple[Remark, ...]


def debrief(prepared: Prepared, log: Sequence[Logged], at_s: int) -> Debrief:
    """The debrief of a run that has ended at `at_s`, or of one that goes on as far as it is then."""
    situation, way = Situation(prepared, fold(log), at_s), Way(prepared, log, at_s)
    done, limit = worked(situation, log), situation.limit
    steps = done.steps
    tasks = task_times(situation, steps)
    return Debrief(
        at_s=at_s,
        ended=situation.state.ended_s is not None,
        end_reason=situation.state.end_reason,
        plan_finish_s=situation.plan.end_s,
        limit_s=None if limit is None else limit.at_s,
        limit_words="" if limit is None else limit.words,
        at_end=Known(situation.lead_s, situation.projection.end_s, situation.room_s),
        steps=steps,
        tasks=tasks,
        people=person_times(situation, (*steps, *done.pieces)),
        lead=lead_story(way),
        points=changes(way.points()),
        holds=holds_told(situation, steps, log),
        polls=polls_told(situation, log),
        work=work_told(situation, tasks, log),
        carried=carried_told(situation),
        rounds=rounds_told(situation),
        gauges=gauges_told(situation),
        tools=tools_told(situation, log),
        decisions=decisions(prepared, situation.procedure, log),
        remarks=remarks(situation.procedure, log, situation.state.ended_s is not None),
    )


def remarks(procedure: Procedure, log: Sequence[Logged], ended: bool) -> tuple[Remark, ...]:
    """What was said beside the steps, in order of time. Once the run has `ended`, the trouble of a rehearsal too."""
    trouble = {logged.event.inject: logged.event for logged in log if isinstance(logged.event, InjectSet)}
    found = []
    for logged in log:
        words = sentence(logged.event, procedure)
        match logged.event:
            case NoteAdded(_, step, person) | FlagRaised(_, step, person):
                about = (step, person)
            case RoundAnswered(_, person, False):
                about = (None, person)
            case FlagCleared():
                about = (None, None)
            case InjectDone(inject) if ended and inject in trouble:
                about = (trouble[inject].step, trouble[inject].person)
                words = f"{words}: {inject_words(trouble[inject], procedure, step_words)}"
            case _:
                continue
        found.append(Remark(logged.at_s, logged.seq, logged.by, words, *about))
    return tuple(sorted(found, key=lambda remark: (remark.at_s, remark.seq)))


def around(told: Debrief, move: LeadMove) -> tuple[Remark, ...]:
    """The remarks that belong to a change of the lead: on its step at any time, or on one of its people or on nobody
    in particular at about that time.
    """
    who = next((step.who for step in told.steps if step.id == move.step), ())
    return tuple(
        remark
        for remark in told.remarks
        if (remark.step is not None and remark.step == move.step)
        or (
            remark.step is None
            and (remark.person is None or remark.person in who)
            and move.from_s - AROUND_S <= remark.at_s <= move.to_s + AROUND_S
        )
    )
