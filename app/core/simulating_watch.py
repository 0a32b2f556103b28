"""What simulated people do beside the steps: polls, rounds, gauges, tools. See `simulating`."""

from collections.abc import Iterator

from app.core.commands import Command
from app.core.commands_live import AnswerPoll, AnswerRound, MoveTool, TakeReading
from app.core.commands_rehearsal import NoteInjectDone
from app.core.custody import HELD
from app.core.events_rehearsal import InjectSet
from app.core.limits import SupplyState
from app.core.player_readings import gauge
from app.core.procedure import Designator
from app.core.rounds import round_states
from app.core.shares import between
from app.core.simulating_asks import Ask, answer_act
from app.core.simulating_cast import Act, Cast, all_over, last_mark_s
from app.core.situation import Situation
from app.core.watch import Poll, ToolPlace

ROUND_S = (10, 90)
"""How long after it is due a round is made."""
FIRST_READING_S = (120, 300)
"""How long after zero, or after the players were set, a gauge is read for the first time."""
READ_EVERY_S = 1800
WITH_ROUND_S = 600
"""A gauge is read every half hour; at a round too, if the last reading is older than this. Our own, no source."""
WRONG_S = (5, 30)
STOWS_S = (20, 90)
LOSES_S = (30, 120)
LOST_BECAUSE = "it drifted off"
WATCHES_AT_LEAST_S = 4 * 3600


def watch_acts(situation: Situation, cast: Cast) -> Iterator[Act]:
    for poll in situation.state.watch.open_polls:
        yield from _answers(cast, poll)
    for trouble in cast.waiting("lost tool"):
        yield from _loses(situation, cast, trouble)
    yield from _stows(situation, cast)
    if not all_over(situation):
        last_s = _watched_until_s(situation)
        rounds = (*_rounds(situation, cast), *_readings(situation, cast))
        yield from (act for act in rounds if act.at_s <= last_s)


def _watched_until_s(situation: Situation) -> int:
    """A rehearsal that somebody forgot must not fill its log for ever with rounds."""
    return 2 * max(situation.plan.end_s, situation.procedure.limits.finish_s or 0) + WATCHES_AT_LEAST_S


def _answers(cast: Cast, poll: Poll) -> Iterator[Act]:
    for person in poll.who:
        if person in cast.players:

            def say(go: bool, reason: str, who: Designator = person) -> Command:
                return AnswerPoll(poll.id, who, go, reason)

            act = answer_act(cast, Ask(poll.id, None, person, poll.called_s, poll.answers.get(person)), say)
            if act is not None:
                yield act


# Rounds and gauges


def _rounds(situation: Situation, cast: Cast) -> Iterator[Act]:
    """Whatever is nobody's own is looked after as well."""
    for state in round_states(situation):
        if state.person and state.person not in cast.players:
            continue
        due_s = max(state.due_s, cast.since_s)
        at_s = due_s + between(cast.seed, *ROUND_S, "round", state.round.name, state.person, due_s)
        asked = [each for each in situation.gauges if state.person == each.person != "" and _is_old(each, at_s)]
        read = tuple((each.supply.name, _shows(situation, cast, each, at_s)) for each in asked)
        yield Act(at_s, AnswerRound(state.round.name, state.person or None, True, "", read), state.person)


def _readings(situation: Situation, cast: Cast) -> Iterator[Act]:
    for each in situation.gauges:
        if each.person and each.person not in cast.players:
            continue
        at_s = max(_next_reading_s(each, cast), cast.since_s)
        shown = _shows(situation, cast, each, at_s)
        yield Act(at_s, TakeReading(each.supply.name, each.person or None, shown), each.person)
        wrong = next((trouble for trouble in cast.waiting("wrong reading") if _is_of(trouble, each)), None)
        if wrong is not None and wrong.value is not None:
            yield _wrong(cast, each, wrong, wrong.value)


def _wrong(cast: Cast, one: SupplyState, trouble: InjectSet, value: float) -> Act:
    """Read as soon as the trouble has begun, whenever the gauge was to be read next."""
    last_s = one.readings[-1].at_s if one.readings else 0
    at_s = max(trouble.from_s, cast.since_s, last_s) + between(cast.seed, *WRONG_S, "wrong", trouble.inject, one.person)
    return Act(at_s, TakeReading(one.supply.name, one.person or None, value), one.person, trouble.inject)


def _is_of(trouble: InjectSet, one: SupplyState) -> bool:
    return trouble.supply == one.supply.name and trouble.person in (None, one.person)


def _is_old(one: SupplyState, at_s: int) -> bool:
    return not one.readings or one.readings[-1].at_s + WITH_ROUND_S <= at_s


def _next_reading_s(one: SupplyState, cast: Cast) -> int:
    if one.readings:
        return one.readings[-1].at_s + READ_EVERY_S
    return cast.since_s + between(cast.seed, *FIRST_READING_S, "first", one.supply.name, one.person)


def _shows(situation: Situation, cast: Cast, one: SupplyState, at_s: int) -> float:
    """Full at zero, or when it was exchanged or filled."""
    full_s = one.readings[0].at_s if one.readings and one.readings[0].anew else 0
    return gauge(one.supply, one.person, cast.seed, max(0, at_s - full_s), situation.plan.end_s)


# Tools


def _loses(situation: Situation, cast: Cast, trouble: InjectSet) -> Iterator[Act]:
    """Lost by whoever was named, or has it; one that nobody took out yet is taken out first."""
    tool = trouble.tool or ""
    place = situation.state.watch.tools.get(tool)
    if place is None or place.how in ("stowed", "left outside"):
        taker = _loser(situation, cast, trouble)
        if taker in cast.players:
            at_s = max(trouble.from_s, 0 if place is None else place.at_s)
            yield Act(at_s, MoveTool(tool, "taken", taker), taker or "")
    elif place.how == "lost":
        yield Act(max(trouble.from_s, place.at_s), NoteInjectDone(trouble.inject))
    elif (loser := _loser(situation, cast, trouble)) in cast.players:
        at_s = max(trouble.from_s, place.at_s) + between(cast.seed, *LOSES_S, "loses", tool, place.at_s)
        reason = trouble.text or LOST_BECAUSE
        yield Act(at_s, MoveTool(tool, "lost", loser, reason=reason), loser or "", trouble.inject)


def _loser(situation: Situation, cast: Cast, trouble: InjectSet) -> Designator | None:
    """Whoever was named, or has the tool, or is the first that would take it out; None where that is nobody simulated
    and nobody has it."""
    place = situation.state.watch.tools.get(trouble.tool or "")
    if place is None or place.how in ("stowed", "left outside"):
        return trouble.person or _needs(situation, cast, trouble.tool or "")
    return trouble.person or place.person


def comes_by_itself(situation: Situation, cast: Cast, trouble: InjectSet) -> bool:
    """Whether simulated people alone bring it about; else it is said to those whom it befalls."""
    if trouble.tool is not None:
        return _loser(situation, cast, trouble) in cast.players
    if trouble.person is not None:
        return trouble.person in cast.players
    if trouble.step is not None:
        return cast.play(situation.step(trouble.step).who)
    return any(_is_of(trouble, one) and (not one.person or one.person in cast.players) for one in situation.gauges)


def _needs(situation: Situation, cast: Cast, tool: str) -> Designator | None:
    """The first simulated person, in file order, who has an open step of a task that needs the tool."""
    for number, step in enumerate(situation.network.steps):
        if situation.is_open(number) and tool in situation.procedure.task(step.task).needs:
            for person in step.who:
                if person in cast.players:
                    return person
    return None


def _stows(situation: Situation, cast: Cast) -> Iterator[Act]:
    """Whoever has come to close-out stows what they have; without such a task, when nothing is left to do."""
    for tool, place in situation.state.watch.tools.items():
        if place.how in HELD and place.person in cast.players:
            came_s = _came_to_close_out_s(situation, place.person or "")
            if came_s is not None:
                yield _stow(cast, tool, place, came_s)


def _stow(cast: Cast, tool: str, place: ToolPlace, came_s: int) -> Act:
    at_s = max(came_s, place.at_s) + between(cast.seed, *STOWS_S, "stows", tool, place.at_s)
    return Act(at_s, MoveTool(tool, "stowed", place.person), place.person or "")


def _came_to_close_out_s(situation: Situation, person: Designator) -> int | None:
    """When all that the person does before close-out was over; None while it is not."""
    close_out, network = situation.procedure.limits.close_out, situation.network
    if close_out is None:
        return last_mark_s(situation) if all_over(situation) else None
    before = [step for step in network.lists[network.crew.index(person)] if network.steps[step].task != close_out]
    if any(situation.is_open(step) for step in before):
        return None
    return max((situation.facts.done[step] for step in before if step in situation.facts.done), default=0)
