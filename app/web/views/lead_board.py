"""The Lead board: ahead or behind, when it finishes, what room there is, who waits for whom, what may be started."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.core.choices import Offer, goes_with
from app.core.procedure import Designator, StepId, TaskId
from app.core.situation import PersonView, Situation, StepState
from app.core.times import clock, clock_short, duration
from app.core.turn_back import turn_back
from app.core.waits import Wait, waits
from app.core.words import place_words
from app.web.views.desk import NewKey
from app.web.views.figures import Lead, lead, team_lead
from app.web.views.step_progress import said_words
from app.web.views.step_words import waits_words

WAITS_SHOWN = 7


@dataclass(frozen=True, slots=True)
class PersonRow:
    designator: str
    lead: Lead
    step: StepId | None
    text: str
    state: str
    waits: str


@dataclass(frozen=True, slots=True)
class WaitRow:
    about: str
    who: str
    step: str
    on: str
    until: str
    is_go: bool


@dataclass(frozen=True, slots=True)
class HoldRow:
    """A hold that is not yet done: when it is expected, or `since` when it waits, and what each person has said.

    `answers`: person, words, and the class that colours them.
    """

    step: StepId
    fig: str
    text: str
    who: str
    reached: bool
    since: str
    answers: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class OfferRow:
    task: TaskId
    title: str
    who: str
    takes: str
    eligible: bool
    reason: str
    lead_after: Lead | None
    finish_after: str
    where: str
    was_put_off: bool
    key: str


@dataclass(frozen=True, slots=True)
class TakenRow:
    """Work taken into the run; `key` is there while it can be given back."""

    task: TaskId
    title: str
    who: str
    state: str
    at: str
    key: str | None


@dataclass(frozen=True, slots=True)
class PutOffRow:
    """A task that may be put off. `bars` says what stands in the way."""

    task: TaskId
    title: str
    worth: int
    takes: str
    along: tuple[str, ...]
    bars: tuple[str, ...]
    key: str


@dataclass(frozen=True, slots=True)
class PutOffSetRow:
    """Tasks that were put off together and still are: they can be put back together."""

    tasks: tuple[TaskId, ...]
    titles: tuple[str, ...]
    reason: str
    key: str


@dataclass(frozen=True, slots=True)
class LeadBoard:
    team: Lead
    team_note: str
    plan_finish: str
    limit: str | None
    past_limit: bool
    close_out: str | None
    turn_back: str | None
    people: tuple[PersonRow, ...]
    waits: tuple[WaitRow, ...]
    more_waits: int
    holds: tuple[HoldRow, ...]
    offers: tuple[OfferRow, ...]
    behind: bool
    taken: tuple[TakenRow, ...]
    may_put_off: tuple[PutOffRow, ...]
    put_off: tuple[PutOffSetRow, ...]
    misses: tuple[str, ...]


def lead_board(situation: Situation, offered: Sequence[Offer], new_key: NewKey) -> LeadBoard:
    procedure = situation.procedure
    limit = situation.limit
    close_out = procedure.limits.close_out
    waiting = waits(situation)
    return LeadBoard(
        team=team_lead(situation),
        team_note=_team_note(situation),
        plan_finish=clock(situation.plan.end_s),
        limit=None if limit is None else f"{limit.words} {clock(limit.at_s)}",
        past_limit=limit is not None and situation.projection.end_s > limit.at_s,
        close_out=None if close_out is None else procedure.task(close_out).title,
        turn_back=_turn_back(situation),
        people=tuple(_person(situation, view) for view in situation.crew),
        waits=tuple(_wait(situation, wait) for wait in waiting[:WAITS_SHOWN]),
        more_waits=max(0, len(waiting) - WAITS_SHOWN),
        holds=_holds(situation),
        offers=tuple(_offer(situation, offer, new_key) for offer in offered),
        behind=situation.lead_s < procedure.least_lead_s,
        taken=_taken(situation, new_key),
        may_put_off=_may_put_off(situation, new_key),
        put_off=_put_off(situation, new_key),
        misses=tuple(situation.network.steps[number].do for number in sorted(situation.projection.misses)),
    )


def _turn_back(situation: Situation) -> str | None:
    found = turn_back(situation)
    return None if found is None or found.by_s is None or found.by_s < 0 else clock(found.by_s)


def _team_note(situation: Situation) -> str:
    """Who slips, and whether it matters."""
    within = situation.procedure.on_plan_within_s
    behind = [view for view in situation.crew if view.lead_s < -within]
    if not behind:
        return "nobody is behind their own list"
    worst = min(behind, key=lambda view: view.lead_s)
    words = f"{worst.designator} is {lead(worst.lead_s, within).words}"
    if worst.float_s is not None and worst.float_s > 0:
        return f"{words}, with {duration(worst.float_s)} of float left"
    return f"{words}, with no float left" if worst.float_s is not None else words


def _person(situation: Situation, view: PersonView) -> PersonRow:
    tone = lead(view.lead_s, situation.procedure.on_plan_within_s)
    if view.next is None:
        return PersonRow(view.designator, tone, None, "Nothing left", "", "")
    number = situation.network.index[view.next]
    step = situation.network.steps[number]
    state = situation.states[number]
    return PersonRow(view.designator, tone, step.id, step.do, str(state), waits_words(situation, number))


def _wait(situation: Situation, wait: Wait) -> WaitRow:
    step = situation.step(wait.step)
    until = "go" if wait.until is None else situation.step(wait.until).do
    return WaitRow(
        about=clock_short(wait.about_s),
        who=" and ".join(wait.who) or "Nobody",
        step=step.do,
        on=" and ".join(wait.on),
        until=until,
        is_go=wait.until is None,
    )


def _holds(situation: Situation) -> tuple[HoldRow, ...]:
    rows = []
    for number, step in enumerate(situation.network.steps):
        if step.go and situation.is_open(number):
            reached = situation.states[number] is StepState.UNDER_WAY
            since = clock(situation.projection.times(number)[0]) if reached else ""
            answers = tuple(_answer(situation, step.id, person, since) for person in step.go)
            rows.append(HoldRow(step.id, f"t-{step.id}", step.do, " and ".join(step.who), reached, since, answers))
    return tuple(rows)


def _answer(situation: Situation, step: StepId, person: Designator, since: str) -> tuple[str, str, str]:
    """`since`: when the hold was reached; empty before that."""
    answer = situation.state.answer(step, person)
    if answer is None:
        return person, f"no answer yet, asked since {since}" if since else "no answer yet", "quiet"
    return person, said_words(answer), "go" if answer.go else "limit"


def _offer(situation: Situation, offer: Offer, new_key: NewKey) -> OfferRow:
    procedure = situation.procedure
    within = procedure.on_plan_within_s
    return OfferRow(
        task=offer.task,
        title=procedure.task(offer.task).title,
        who=" and ".join(offer.who) or "nobody",
        takes=duration(offer.takes_s),
        eligible=offer.eligible,
        reason=offer.reason or "",
        lead_after=None if offer.lead_after_s is None else lead(offer.lead_after_s, within),
        finish_after="" if offer.finish_after_s is None else clock(offer.finish_after_s),
        where="; ".join(place_words(procedure, person, before) for person, before in offer.places),
        was_put_off=offer.was_put_off,
        key=new_key(),
    )


def _taken(situation: Situation, new_key: NewKey) -> tuple[TakenRow, ...]:
    rows = []
    for task_id, taken in situation.state.taken.items():
        task = situation.procedure.task(task_id)
        done = sum(1 for step in task.steps if step.id in situation.state.done)
        state = f"{done} of {len(task.steps)} steps done"
        open_still = not situation.state.begun(task_id) and situation.state.ended_s is None
        rows.append(
            TakenRow(
                task_id,
                task.title,
                " and ".join(task.people),
                state,
                clock(taken.at_s),
                new_key() if open_still else None,
            )
        )
    return tuple(rows)


def _may_put_off(situation: Situation, new_key: NewKey) -> tuple[PutOffRow, ...]:
    procedure, state = situation.procedure, situation.state
    rows = []
    for task in procedure.tasks:
        settled = all(step.id in state.done or step.id in state.not_needed for step in task.steps)
        if not task.may_put_off or settled or task.id in state.put_off:
            continue
        along, bars = goes_with(procedure, task.id)
        begun = [each for each in along if state.begun(each)]
        rows.append(
            PutOffRow(
                task=task.id,
                title=task.title,
                worth=task.worth,
                takes=duration(sum(step.takes.likely_s for step in task.steps)),
                along=tuple(procedure.task(each).title for each in along[1:]),
                bars=tuple(
                    [f"{procedure.task(each).title} must be done and waits for it" for each in bars]
                    + [f"{procedure.task(each).title} was begun" for each in begun]
                ),
                key=new_key(),
            )
        )
    return tuple(rows)


def _put_off(situation: Situation, new_key: NewKey) -> tuple[PutOffSetRow, ...]:
    """The newest putting off first; a task that was put off twice stands where it was last."""
    state, titles = situation.state, {task.id: task.title for task in situation.procedure.tasks}
    rows, shown = list[PutOffSetRow](), set[TaskId]()
    for together in reversed(state.put_off_together):
        tasks = tuple(task for task in together if task in state.put_off and task not in shown)
        shown.update(tasks)
        if tasks:
            rows.append(PutOffSetRow(tasks, tuple(titles[task] for task in tasks), state.put_off[tasks[0]], new_key()))
    return tuple(rows)
