"""Orders about one step beside its completion, and what stands against any order about it. It completes no step.

Each function returns events or refuses. `completing` has marks, counts, calls and their answers.
"""

import math
from collections.abc import Iterator
from typing import assert_never

from app.core.commands import (
    Command,
    GiveGo,
    GiveNoGo,
    RecordStart,
    Refusal,
    ReopenStep,
    SetNotNeeded,
    joined,
    said,
)
from app.core.events import Event, GoGiven, NoGoGiven, StartRecorded, StepNotNeeded, StepReopened
from app.core.procedure import Designator, Step, StepId
from app.core.reasons import named
from app.core.situation import Situation, StepState
from app.core.times import clock
from app.core.watch import Answer

Values = tuple[tuple[str, float], ...]


def find(situation: Situation, step: StepId) -> int:
    number = situation.network.index.get(step)
    if number is None:
        raise Refusal("unknown", f"This procedure has no step {step}.")
    return number


def open_step(situation: Situation, step: StepId) -> int:
    """The number of a step that can be marked. Raises Refusal when it is done, or not in the run."""
    number = find(situation, step)
    done = situation.state.done.get(step)
    if done is not None:
        raise Refusal(
            "already-done", f"{titled(situation, number)} is already done, at {clock(done.at_s)} by {done.by}."
        )
    if not situation.is_in(number):
        raise Refusal(
            "not-in-run", f"{titled(situation, number)} is a get-ahead item that was not taken; take it first."
        )
    if situation.state_of(number) is StepState.PUT_OFF:
        raise Refusal("put-off", f"{titled(situation, number)} was put off; put it back first.")
    if situation.state_of(number) is StepState.NOT_NEEDED:
        raise Refusal("not-needed", f"{titled(situation, number)} was set not needed; reopen it first.")
    return number


def titled(situation: Situation, number: int) -> str:
    step = situation.network.steps[number]
    return f"“{step.do}” ({step.id})"


def hold_firm(situation: Situation, number: int, at_s: int) -> None:
    """What no order of the lead passes, asked before a step is counted, called or marked at `at_s`.

    Raises:
        Refusal: a go is missing or came later, a warning is not acknowledged, or the step was not begun by then. (When
            it was acknowledged does not matter: that it was read is known before the mark is, whenever it was said.)
    """
    step = situation.network.steps[number]
    missing = situation.missing_go(step)
    if missing:
        raise Refusal("hold", f"{titled(situation, number)} is a hold: no go yet from {joined(missing)}.")
    after_its_goes(situation, step, at_s)
    _warning_is_read(situation, number)
    after_its_start(situation, number, at_s)
    after_its_count(situation, number, at_s)


def not_reopened_since(situation: Situation, command: Command, pressed_s: int) -> None:
    """What was pressed on a station without a link may be about what has been asked for anew meanwhile.

    Raises:
        Refusal: its step was reopened, or the goes of its hold were asked for again, after that elapsed second.
    """
    step = getattr(command, "step", None)
    anew_s = situation.state.progress.anew.get(step) if isinstance(step, str) else None
    if step is not None and anew_s is not None and pressed_s < anew_s:
        about = titled(situation, find(situation, step))
        sentence = f"This was pressed at {clock(pressed_s)}, and {about} was asked for anew at {clock(anew_s)}"
        raise Refusal("reopened", f"{sentence}. Ask whether it still holds, and enter it again if so.")


def bars_of(situation: Situation, number: int, at_s: int) -> Iterator[str]:
    """Each hard prerequisite that stands against this step being complete, or begun, at `at_s`, in words."""
    for earlier, wait_s in situation.prerequisites(number):
        finish = situation.facts.done.get(earlier)
        if finish is None:
            yield f"{named(situation, earlier)} is open"
        elif at_s < finish:
            yield f"{named(situation, earlier)} was done only at {clock(finish)}"
        elif at_s < finish + wait_s:
            yield f"the wait after {named(situation, earlier)} runs until {clock(finish + wait_s)}"


def after_its_goes(situation: Situation, step: Step, at_s: int) -> None:
    for person in step.go:
        given = situation.state.answer(step.id, person)
        if given is not None and at_s < given.at_s:
            sentence = f"{person} was go only at {clock(given.at_s)}; the hold can't be complete at {clock(at_s)}."
            raise Refusal("hold", sentence)


def not_past_a_hold(situation: Situation, number: int) -> None:
    """No order passes a hold that is not go, however far before the step it stands.

    Raises:
        Refusal: one of the open steps that this one waits for, at any distance, is such a hold.
    """
    reached, waiting = {number}, [number]
    for each in waiting:
        new = [earlier for earlier in situation.open_before(each) if earlier not in reached]
        reached.update(new)
        waiting += new
    for earlier in sorted(reached - {number}):
        missing = situation.missing_go(situation.network.steps[earlier])
        if missing:
            sentence = (
                f"{titled(situation, number)} must wait: {named(situation, earlier)} is a hold, and no order passes it"
            )
            raise Refusal("hold", f"{sentence}; no go yet from {joined(missing)}.")


def after_its_start(situation: Situation, number: int, at_s: int) -> None:
    started = situation.facts.started.get(number, 0)
    taken = situation.facts.floor_s.get(number, 0)
    if at_s < started:
        raise Refusal("before-start", f"Its start was recorded at {clock(started)}; it can't be done at {clock(at_s)}.")
    if at_s < taken:
        raise Refusal("before-start", f"It came into the run at {clock(taken)}; it can't be done at {clock(at_s)}.")


def after_its_count(situation: Situation, number: int, at_s: int) -> None:
    counts = situation.state.progress.counts.get(situation.id(number), ())
    if counts and at_s < counts[-1].at_s:
        last = f"{len(counts)} of {situation.network.steps[number].count}"
        raise Refusal(
            "before-count", f"{last} was counted at {clock(counts[-1].at_s)}; no more can be at {clock(at_s)}."
        )


def unacknowledged(situation: Situation, step: Step) -> tuple[Designator, ...]:
    """Who of the step's people has not acknowledged its warning, in file order; nobody where there is none."""
    acks = situation.state.progress.acks.get(step.id, {})
    return tuple(person for person in step.who if person not in acks) if step.warning else ()


def _warning_is_read(situation: Situation, number: int) -> None:
    missing = unacknowledged(situation, situation.network.steps[number])
    if missing:
        sentence = f"{joined(missing)} must acknowledge the warning of {titled(situation, number)} first"
        raise Refusal("warning", f"{sentence}; no order passes it.")


def values_of(step: Step, given: Values) -> Values:
    """The values as given.

    Raises:
        Refusal: the step does not record one, one is given twice, or one is not a finite number.
    """
    names = {value.name for value in step.record}
    for name, reading in given:
        if name not in names:
            raise Refusal("unknown-value", f"Step {step.id} records no “{name}”.")
        if not math.isfinite(reading):
            raise Refusal("not-a-number", f"“{name}” is not a number.")
    if len(dict(given)) < len(given):
        raise Refusal("twice", f"A value of step {step.id} is given twice; give each once.")
    return given


def step_order(situation: Situation, command: ReopenStep | RecordStart | SetNotNeeded, at_s: int) -> tuple[Event, ...]:
    match command:
        case ReopenStep(step, reason):
            return _reopen(situation, step, reason)
        case RecordStart(step):
            return _start(situation, step, at_s)
        case SetNotNeeded(step, reason):
            number = open_step(situation, step)
            missing = situation.missing_go(situation.network.steps[number])
            if missing:
                sentence = (
                    f"{titled(situation, number)} is a hold and can't be left out: no go yet from {joined(missing)}."
                )
                raise Refusal("hold", sentence)
            why = said(reason, f"Say why {titled(situation, number)} is not needed.")
            return (StepNotNeeded(step, why),)
        case _:
            assert_never(command)


def _reopen(situation: Situation, step: StepId, reason: str) -> tuple[Event, ...]:
    number = find(situation, step)
    state = situation.state
    counted = step not in state.done and state.progress.counts.get(step)
    if not (counted or step in state.done or step in state.not_needed or step in state.progress.called):
        raise Refusal("not-done", f"{titled(situation, number)} is open already.")
    holds = holds_to_ask_again(situation, number)
    return (StepReopened(step, said(reason, f"Say why {titled(situation, number)} is reopened."), asks_again=holds),)


def holds_to_ask_again(situation: Situation, number: int) -> tuple[StepId, ...]:
    """The open holds that wait for this step, at any distance, and at which somebody was go, in file order.

    A go was given on what came before it; when that is open again, it is asked for again. A no-go stands.
    """
    reached, waiting = {number}, [number]
    for each in waiting:
        new = [later for later in situation.prepared.followers[each] if later not in reached]
        reached.update(new)
        waiting += new
    return tuple(
        situation.id(later)
        for later in sorted(reached - {number})
        if later not in situation.facts.done
        and any(answer.go for answer in situation.state.answers.get(situation.id(later), {}).values())
    )


def _start(situation: Situation, step: StepId, at_s: int) -> tuple[Event, ...]:
    number = open_step(situation, step)
    bars = list(bars_of(situation, number, at_s))
    if bars:
        raise Refusal("open-prerequisite", f"{titled(situation, number)} can't start: {'; '.join(bars)}.")
    taken = situation.facts.floor_s.get(number, 0)
    if at_s < taken:
        raise Refusal("before-start", f"It came into the run at {clock(taken)}; it can't start at {clock(at_s)}.")
    first = _first_sign(situation, step)
    if first is not None and at_s > first:
        raise Refusal("after-call", f"It was counted or called at {clock(first)}; it can't start at {clock(at_s)}.")
    return (StartRecorded(step),)


def _first_sign(situation: Situation, step: StepId) -> int | None:
    """When an open step was first counted or called, elapsed seconds."""
    progress = situation.state.progress
    call, counts = progress.called.get(step), progress.counts.get(step, ())
    return min([*([call.at_s] if call else []), *(action.at_s for action in counts[:1])], default=None)


def answer(situation: Situation, command: GiveGo | GiveNoGo, at_s: int) -> tuple[Event, ...]:
    number = open_step(situation, command.step)
    step = situation.network.steps[number]
    if command.person not in step.go:
        raise Refusal("not-asked", f"{command.person} is not asked at {titled(situation, number)}.")
    bars = list(bars_of(situation, number, at_s))
    if bars:
        raise Refusal("open-prerequisite", f"The hold was not reached at {clock(at_s)}: {bars[0]}.")
    standing = situation.state.answer(step.id, command.person)
    if standing is not None:
        _another_answer(command, standing, at_s)
    if isinstance(command, GiveNoGo):
        why = said(command.reason, "A no-go needs its reason.")
        return (NoGoGiven(step.id, command.person, why, command.heard),)
    lifted = None
    if standing is not None:
        otherwise = f"{command.person} is no-go since {clock(standing.at_s)}, {standing.reason}; say what lifts it."
        lifted = said(command.reason, otherwise)
    return (GoGiven(step.id, command.person, lifted, command.heard),)


def _another_answer(command: GiveGo | GiveNoGo, standing: Answer, at_s: int) -> None:
    """Refuses the same answer again, and one that was given before the one that stands."""
    word = "go" if standing.go else "no-go"
    if standing.go is isinstance(command, GiveGo):
        raise Refusal("same-answer", f"{command.person} is {word} already, since {clock(standing.at_s)}.")
    if at_s < standing.at_s:
        sentence = f"{command.person} was {word} at {clock(standing.at_s)}, which is later than {clock(at_s)}"
        raise Refusal("before-answer", f"{sentence}; the later answer stands.")
