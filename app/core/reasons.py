"""Why optional work may not be started now, or not there, in words. It tries no places; `choices` does."""

from collections.abc import Collection, Iterator

from app.core.custody import missing_tools
from app.core.passes import Timeline
from app.core.procedure import Task, TaskId
from app.core.situation import Situation
from app.core.times import clock, duration, lead_words
from app.core.turn_back import limit_s


def why_not_now(situation: Situation, task: Task, together: Collection[TaskId] = ()) -> str | None:
    """The reasons that have nothing to do with the place. What the tasks taken `together` with it do counts as done."""
    if situation.state.ended_s is not None:
        return "the run has ended"
    return (
        _team_reason(situation)
        or prerequisite_reason(situation, task, together)
        or _people_reason(situation, task)
        or _tools_reason(situation, task)
    )


def _team_reason(situation: Situation) -> str | None:
    least = situation.procedure.least_lead_s
    if situation.lead_s >= least:
        return None
    if situation.lead_s < 0:
        return f"the team is {lead_words(situation.lead_s)}"
    return f"the team is {lead_words(situation.lead_s)}; at least {duration(least)} ahead is asked for"


def prerequisite_reason(situation: Situation, task: Task, together: Collection[TaskId] = ()) -> str | None:
    """Which prerequisite of the task is not done, nor among the tasks taken `together` with it."""
    for step in task.steps:
        for earlier in _unmet(situation, situation.network.index[step.id]):
            if situation.network.steps[earlier].task not in (task.id, *together):
                off = ", which was put off" if earlier in situation.facts.removed else ""
                return f"waits for {named(situation, earlier)}{off}"
    return None


def _unmet(situation: Situation, step: int) -> Iterator[int]:
    """The prerequisites that are not done. What was put off is not done; what is not needed stands for its own."""
    for earlier, _ in situation.network.before[step]:
        if earlier in situation.facts.done:
            continue
        if situation.id(earlier) in situation.state.not_needed:
            yield from _unmet(situation, earlier)
        else:
            yield earlier


def named(situation: Situation, number: int) -> str:
    """A step in words: who, what, and its id."""
    step = situation.network.steps[number]
    who = f"{' and '.join(step.who)}: " if step.who else ""
    return f"{who}“{step.do}” ({step.id})"


def _people_reason(situation: Situation, task: Task) -> str | None:
    for person in task.people:
        lead = situation.person(person).lead_s
        if not situation.on_plan_or_ahead(lead):
            return f"{person} is {lead_words(lead)}"
        hold = situation.at_hold(person)
        if hold is not None:
            return f"{person} is at a hold ({hold})"
    return None


def _tools_reason(situation: Situation, task: Task) -> str | None:
    return next((f"{need.tool}: {need.words}" for need in missing_tools(situation, task.id)), None)


def why_not_there(situation: Situation, task: Task, timeline: Timeline | None) -> str | None:
    """The reasons that its place gives, by the times that follow; None: there is no place."""
    if timeline is None:
        return (
            "no place is left before close-out" if situation.procedure.limits.close_out else "no place is left for it"
        )
    lead = situation.lead_of(timeline)
    least = situation.procedure.least_lead_s
    if lead < least:
        return f"would leave the team {lead_words(lead)}" + (f", less than {duration(least)}" if lead >= 0 else "")
    numbers = [number for number, step in enumerate(situation.network.steps) if step.task == task.id]
    if any(number in timeline.misses for number in numbers):
        return "no window is left that it fits"
    own_s = max((timeline.times(number)[1] for number in numbers), default=0)
    return _limit_reason(situation, "close-out", closes_out_s(situation, timeline)) or _limit_reason(
        situation, "it", own_s
    )


def _limit_reason(situation: Situation, what: str, ends_s: int) -> str | None:
    limit = limit_s(situation)
    if limit is None or ends_s <= limit:
        return None
    by = situation.limit.by if situation.limit else ""
    return f"{what} would end at {clock(ends_s)}, {duration(ends_s - limit)} after the limit{f' ({by})' if by else ''}"


def closes_out_s(situation: Situation, timeline: Timeline) -> int:
    """When close-out ends on this timeline; its end when the procedure names no close-out task."""
    close_out = situation.procedure.limits.close_out
    if close_out is None:
        return timeline.end_s
    return max(
        timeline.times(situation.network.index[step.id])[1] for step in situation.procedure.task(close_out).steps
    )
