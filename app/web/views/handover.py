"""The handover: one page for the next shift: who is where, what is open, what was decided. It carries nothing out."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from app.core.custody import ACCOUNTED
from app.core.events import Logged
from app.core.handover import decided_s, last_decisions, last_notes, standing
from app.core.heads import head_of
from app.core.limits import SupplyState
from app.core.procedure import Designator, StepId
from app.core.rounds import RoundPhase, RoundState, round_states
from app.core.situation import PersonView, Situation, StepState
from app.core.times import clock, clock_short, duration
from app.core.turn_back import turn_back
from app.core.waits import Wait, waits
from app.core.watch import ToolPlace
from app.web.keys import NewKey
from app.web.views.figures import Lead, lead, team_lead
from app.web.views.flags import FlagRow, called_words, flags
from app.web.views.polls import WaitingHold, answers_words, waiting_holds
from app.web.views.step_words import waits_words
from app.web.views.told import Teller

COMING_SHOWN = 6
"""So many of the next joins and holds are told: the page is to be read in a minute. Our own bound."""


@dataclass(frozen=True, slots=True)
class PersonPlace:
    """Where a person is: the step, its state, since when, what it waits for; `next` is what follows it."""

    designator: Designator
    lead: Lead
    step: StepId
    text: str
    state: str
    since: str
    waits: str
    next: str


@dataclass(frozen=True, slots=True)
class Line:
    """Something in one line: when, about what, and what is to be known of it."""

    at: str
    about: str
    words: str


@dataclass(frozen=True, slots=True)
class Handover:
    """`decided` and `notes` are of the last hour, `standing` is older and still counts; the oldest first.

    `at` of a gauge, round or tool is its last word. `head` is that of the log as it is now.
    """

    team: Lead
    plan_finish: str
    limit: str
    turn_back: str
    people: tuple[PersonPlace, ...]
    open: tuple[Line, ...]
    holds: tuple[WaitingHold, ...]
    polls: tuple[Line, ...]
    flags: tuple[FlagRow, ...]
    supplies: tuple[Line, ...]
    rounds: tuple[Line, ...]
    tools: tuple[Line, ...]
    coming: tuple[Line, ...]
    decided: tuple[Line, ...]
    standing: tuple[Line, ...]
    notes: tuple[Line, ...]
    head: str
    key: str


def handover(situation: Situation, log: Sequence[Logged], new_key: NewKey) -> Handover:
    limit, turning = situation.limit, turn_back(situation)
    state, teller = situation.state, Teller(situation.procedure, log)
    return Handover(
        team=team_lead(situation),
        plan_finish=clock(situation.plan.end_s),
        limit="" if limit is None else f"{limit.words} {clock(limit.at_s)}",
        turn_back="" if turning is None or turning.by_s is None or turning.by_s < 0 else clock(turning.by_s),
        people=tuple(_person(situation, view) for view in situation.crew),
        open=tuple(_open(situation)),
        holds=waiting_holds(situation),
        polls=tuple(Line(clock(each.called_s), each.question, answers_words(each)) for each in state.watch.open_polls),
        flags=flags(situation, None, new_key).flags,
        supplies=tuple(_supply(situation, each) for each in situation.gauges),
        rounds=tuple(_round(situation, each) for each in round_states(situation)),
        tools=tuple(_tool(tool, place) for tool, place in state.watch.tools.items() if place.how not in ACCOUNTED),
        coming=tuple(_coming(situation)),
        decided=tuple(_entry(teller, logged) for logged in last_decisions(log, situation.at_s)),
        standing=tuple(_entry(teller, logged) for logged in standing(log, state, situation.at_s)),
        notes=tuple(_entry(teller, logged) for logged in last_notes(log, situation.at_s)),
        head=head_of(log),
        key=new_key(),
    )


def _person(situation: Situation, view: PersonView) -> PersonPlace:
    tone = lead(view.lead_s, situation.procedure.on_plan_within_s)
    if view.next is None:
        return PersonPlace(view.designator, tone, "", "Nothing left", "", "", "", "")
    number = situation.network.index[view.next]
    step, state = situation.network.steps[number], situation.states[number]
    under_way = state is StepState.UNDER_WAY
    counted = len(situation.state.progress.counts.get(step.id, ()))
    return PersonPlace(
        designator=view.designator,
        lead=tone,
        step=step.id,
        text=step.do,
        state=f"{state}, {counted} of {step.count} done" if counted else str(state),
        since=clock(situation.projection.times(number)[0]) if under_way else "",
        waits=waits_words(situation, number),
        next=_after(situation, view.designator, number),
    )


def _after(situation: Situation, person: Designator, number: int) -> str:
    own = situation.network.lists[situation.network.crew.index(person)]
    following = [step for step in own[own.index(number) + 1 :] if situation.is_open(step)]
    return situation.network.steps[following[0]].do if following else ""


def _open(situation: Situation) -> Iterator[Line]:
    """Open steps of which something is recorded: called, counted in part, or started."""
    state = situation.state
    for number, step in enumerate(situation.network.steps):
        counts, call = state.progress.counts.get(step.id, ()), state.progress.called.get(step.id)
        said = [called_words(step, call)] if call else []
        if counts:
            said.append(f"{len(counts)} of {step.count} counted, the last {clock(counts[-1].at_s)}")
        if step.id in state.started:
            said.append(f"started {clock(state.started[step.id])}")
        if said and situation.is_open(number):
            who = " and ".join(step.who) or "Nobody"
            yield Line(step.id, f"{who}, {step.do}", "; ".join(said))


def _supply(situation: Situation, each: SupplyState) -> Line:
    name = f"{each.person} {each.supply.name}".strip()
    reserve = f"reserve {each.supply.reserve:g} {each.supply.unit}".strip()
    if not each.readings:
        return Line("", name, f"no reading yet; {reserve}")
    last = each.readings[-1]
    read = f"{last.value:g} {each.supply.unit}".strip()
    if each.left.until_s is None:
        return Line(clock(last.at_s), name, f"{read}; {reserve}: {each.left.why_not}")
    left_s = int(each.left.until_s) - situation.at_s
    when = f"in {duration(left_s)}, {clock(int(each.left.until_s))}" if left_s > 0 else "REACHED"
    return Line(clock(last.at_s), name, f"{read}; {reserve}: {when}")


def _round(situation: Situation, each: RoundState) -> Line:
    late_s = situation.at_s - each.due_s
    due = f"due {clock(each.due_s)}"
    if each.phase in (RoundPhase.DUE, RoundPhase.OVERDUE):
        due = f"{each.phase.upper()} since {clock(each.due_s)}, {duration(late_s)}"
    if each.last is None:
        return Line("", f"{each.person} {each.round.name}".strip(), f"{due}; not made yet")
    answer = f": {each.last.answer}" if each.last.answer else ""
    said = f"{'good' if each.last.good else 'BAD'} {clock(each.last.at_s)}{answer}"
    return Line(clock(each.last.at_s), f"{each.person} {each.round.name}".strip(), f"{due}; last {said}")


def _tool(tool: str, place: ToolPlace) -> Line:
    """Who has it, or where it was left or lost."""
    where = f" at {place.where}" if place.where else ""
    why = f": {place.reason}" if place.reason else ""
    if place.how in ("left", "lost"):
        by = f" by {place.person}" if place.person else ""
        return Line(clock(place.at_s), tool, f"{place.how.upper()}{by}{where}{why}")
    return Line(clock(place.at_s), tool, f"{place.person or 'nobody named'} has it{where}{why}")


def _coming(situation: Situation) -> Iterator[Line]:
    """The next holds, and the next steps that bring people together, the earliest first."""
    joins = [(wait.about_s, _join(situation, wait)) for wait in waits(situation) if wait.until is not None]
    holds = [
        (situation.projection.times(number)[0], (f"Hold: {step.do}", f"go from {' and '.join(step.go)}"))
        for number, step in enumerate(situation.network.steps)
        if step.go and situation.is_open(number) and situation.states[number] is not StepState.UNDER_WAY
    ]
    for about_s, (about, words) in sorted([*joins, *holds])[:COMING_SHOWN]:
        yield Line(clock_short(about_s), about, words)


def _join(situation: Situation, wait: Wait) -> tuple[str, str]:
    until = situation.step(wait.until).do if wait.until else ""
    who = " and ".join(wait.who) or "Nobody"
    return f"{who}: {situation.step(wait.step).do}", f"waits for {' and '.join(wait.on) or 'nobody'}, {until}"


def _entry(teller: Teller, logged: Logged) -> Line:
    return Line(clock(decided_s(logged)), logged.by, teller.sentence(logged))
