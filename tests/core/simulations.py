"""Procedures with everything that simulated people meet, of every shape, and whom an order is about."""

from dataclasses import replace
from datetime import UTC, datetime

from hypothesis import strategies as st

from app.core.commands import Command, GiveGo, GiveNoGo, MarkStep
from app.core.commands_live import (
    AcknowledgeWarning,
    AnswerPoll,
    AnswerRound,
    ConfirmStep,
    CountAction,
    MoveTool,
    RaiseFlag,
    TakeReading,
)
from app.core.events import Event
from app.core.procedure import Designator, Procedure, Round, Step, Supply, Task, Value
from app.core.simulated import Simulated
from app.core.simulating_cast import can_begin
from app.core.situation import Situation
from tests.core.guesses import CREW, procedures
from tests.core.running import Run, orders_for

ZERO = datetime(2031, 5, 4, 7, 0, tzinfo=UTC)
_VALUES = st.sampled_from(
    [Value("gap", "mm", 2, 6), Value("turns", "", 11), Value("drop", "kPa", None, 3), Value("n", "")]
)
_people = st.sampled_from([(), ("EV1",), ("EV1", "EV2")])


@st.composite
def _full_step(draw: st.DrawFn, one: Step) -> Step:
    return replace(
        one,
        warning=draw(st.sampled_from(["", "", "Hot."])),
        count=draw(st.sampled_from([None, None, 3])),
        record=(draw(_VALUES),) if draw(st.booleans()) else (),
        confirm_by=draw(st.sampled_from([None, None, *(each for each in CREW if each not in one.who)])),
    )


@st.composite
def full_procedures(draw: st.DrawFn) -> Procedure:
    """`guesses.procedures` with warnings, counts, values, second persons, rounds, gauges and tools."""
    made = draw(procedures())

    def full(task: Task) -> Task:
        needs = draw(st.sampled_from([(), ("saw",), ("saw", "file")]))
        return replace(task, needs=needs, steps=tuple(draw(_full_step(one)) for one in task.steps))

    return replace(
        made,
        tasks=tuple(full(task) for task in made.tasks),
        rounds=(Round("gloves", "Any damage?", draw(_people), draw(st.sampled_from([20, 60]))),),
        supplies=(Supply("battery", draw(_people), draw(st.sampled_from(["%", "bar"])), 12.0),),
        tools=("saw", "file"),
    )


def events(run: Simulated) -> tuple[Event, ...]:
    return tuple(event for order in run.orders for event in order.events)


def about(situation: Situation, command: Command) -> frozenset[Designator]:
    """Whose work or word the order is."""
    match command:
        case MarkStep(step) | CountAction(step):
            return frozenset(situation.step(step).who)
        case RaiseFlag(_, step, _):
            return frozenset(situation.step(step).who if step else ())
        case (
            AcknowledgeWarning(person=person)
            | GiveGo(person=person)
            | GiveNoGo(person=person)
            | ConfirmStep(person=person)
            | AnswerPoll(person=person)
            | AnswerRound(person=person)
            | TakeReading(person=person)
            | MoveTool(person=person)
        ):
            return frozenset({person} if person else ())
        case _:
            return frozenset()


def next_start_s(situation: Situation) -> int | None:
    """When the next step begins that does not wait for another; None if there is none to come."""
    begins = (situation.projection.times(number)[0] for number in can_begin(situation))
    return min((at_s for at_s in begins if at_s > situation.at_s), default=None)


def trainee_does(run: Run, players: frozenset[Designator], now_s: int) -> bool:
    """Have the people who are not simulated do all that they can now. Returns whether there was anything."""
    situation = run.at(now_s)
    for number in can_begin(situation):
        step = situation.network.steps[number]
        if situation.projection.times(number)[0] > now_s:
            continue
        asked = [person for person in situation.missing_go(step) if person not in players]
        if asked:
            run.order(GiveGo(step.id, asked[0]), now_s)
            return True
        call = situation.state.progress.called.get(step.id)
        if call is None and not players.issuperset(step.who) and not situation.missing_go(step):
            for command in orders_for(situation, step.id):
                if not isinstance(command, ConfirmStep):
                    run.order(command, now_s)
            return True
        if call is not None and step.confirm_by and step.confirm_by not in players and call.confirmed_s is None:
            run.order(ConfirmStep(step.id, step.confirm_by), now_s)
            return True
    return False
