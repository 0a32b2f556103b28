"""The debrief page of a run: everything that `core.debrief` tells, in words and as charts. It decides nothing."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from app.core.debrief import Debrief
from app.core.rehearsal import simulated_words
from app.core.situation import Situation
from app.core.times import clock
from app.web.views.bar import Tab, tabs
from app.web.views.debrief_chart import LaneChart, lane_chart
from app.web.views.debrief_rows import (
    DecisionRow,
    Moves,
    WaitRow,
    decision_row,
    hold_row,
    moves,
    poll_row,
    remark_words,
)
from app.web.views.debrief_tables import PersonRow, Shift, TaskRow, person_rows, shift, task_rows
from app.web.views.debrief_watch import WatchRow, WorkRow, gauge_row, round_row, tool_row, work_row
from app.web.views.figures import Lead, lead, room_words
from app.web.views.lead_chart import LeadChart, lead_chart
from app.web.views.overlay import Course, Overlay, overlay


@dataclass(frozen=True, slots=True)
class Head:
    """What stands on top. `when`: ``Ended at`` or ``So far, at``; `shift`: the finish against the plan's."""

    run: int
    title: str
    about: str
    kind: str
    simulated: str
    revision: str
    begun: str
    when: str
    at: str
    ended: bool
    end_reason: str
    lead: Lead
    finish: str
    plan_finish: str
    shift: Shift | None
    limit: str
    room: str
    steps: str


@dataclass(frozen=True, slots=True)
class Told:
    """The whole page. `people_moves`: the changes of each person's lead. `others`: None where this is the only run."""

    head: Head
    lanes: LaneChart
    chart: LeadChart
    team_moves: Moves
    people_moves: tuple[Moves, ...]
    holds: tuple[WaitRow, ...]
    polls: tuple[WaitRow, ...]
    decisions: tuple[DecisionRow, ...]
    work: tuple[WorkRow, ...]
    carried: tuple[tuple[str, str, str], ...]
    rounds: tuple[WatchRow, ...]
    gauges: tuple[WatchRow, ...]
    tools: tuple[WatchRow, ...]
    people: tuple[PersonRow, ...]
    tasks: tuple[TaskRow, ...]
    remarks: tuple[str, ...]
    others: Overlay | None
    log_head: str


@dataclass(frozen=True, slots=True)
class DebriefPage:
    """`alone`: it is a file that opens with no server, with `css`, its styles, in it; else a page with links."""

    told: Told
    chart_part: Markup
    tabs: tuple[Tab, ...]
    compare: str
    alone: bool
    css: Markup


def told(run: int, situation: Situation, found: Debrief, courses: Sequence[Course], log_head: str) -> Told:
    """`situation` is that of the debrief's second; `courses`: this run and others of its procedure."""
    procedure, within_s = situation.procedure, situation.procedure.on_plan_within_s
    does = {person.designator: person.does for person in procedure.crew}
    return Told(
        head=_head(run, situation, found),
        lanes=lane_chart(situation, found.steps),
        chart=_chart(situation, found),
        team_moves=moves(found, "Team", found.lead.team),
        people_moves=tuple(moves(found, person, each) for person, each in found.lead.people),
        holds=tuple(hold_row(hold) for hold in found.holds),
        polls=tuple(poll_row(poll) for poll in found.polls),
        decisions=tuple(decision_row(decision, within_s) for decision in found.decisions),
        work=tuple(work_row(work) for work in found.work),
        carried=tuple((each.title, _steps(each.steps), each.why) for each in found.carried),
        rounds=tuple(round_row(one) for one in found.rounds),
        gauges=tuple(gauge_row(gauge) for gauge in found.gauges),
        tools=tuple(tool_row(tool) for tool in found.tools),
        people=person_rows(found.people, does, within_s),
        tasks=task_rows(found.tasks, found.steps, within_s),
        remarks=tuple(remark_words(remark) for remark in found.remarks),
        others=overlay(courses) if len(courses) > 1 else None,
        log_head=log_head,
    )


def _steps(number: int) -> str:
    return "1 step" if number == 1 else f"{number} steps"


def _head(run: int, situation: Situation, found: Debrief) -> Head:
    procedure, state = situation.procedure, situation.state
    late_s = found.at_end.finish_s - found.plan_finish_s
    return Head(
        run=run,
        title=procedure.title,
        about=procedure.about,
        kind=state.kind,
        simulated=simulated_words(state.rehearsal, situation.network.crew),
        revision=state.revision,
        begun=state.zero_utc[:16].replace("T", " "),
        when="Ended at" if found.ended else "So far, at",
        at=clock(found.at_s),
        ended=found.ended,
        end_reason=found.end_reason,
        lead=lead(found.at_end.lead_s, procedure.on_plan_within_s),
        finish=clock(found.at_end.finish_s),
        plan_finish=clock(found.plan_finish_s),
        shift=shift(late_s, procedure.on_plan_within_s),
        limit="" if found.limit_s is None else f"{found.limit_words} {clock(found.limit_s)}",
        room=room_words(found.at_end.room_s),
        steps=f"{sum(task.done for task in found.tasks)} of {sum(task.of for task in found.tasks)}",
    )


def _chart(situation: Situation, found: Debrief) -> LeadChart:
    """The lead chart, whose "now" is the end of a run that has ended."""
    made = lead_chart(situation, found.points, None, None, found.limit_s)
    if not found.ended:
        return made
    marks = tuple(
        replace(mark, label=mark.label.replace("now", "end", 1)) if mark.look == "now" else mark for mark in made.marks
    )
    times = tuple(replace(row, what="end") if row.what == "now" else row for row in made.numbers.times)
    words = made.words.replace(" now, ", " at the end, ", 1)
    return replace(made, marks=marks, words=words, numbers=replace(made.numbers, times=times))


def page_tabs(run: int, situation: Situation) -> tuple[Tab, ...]:
    return tabs(run, situation.procedure, "debrief", None)
