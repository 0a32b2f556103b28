"""What is watched beside the steps, as plain JSON values for programs. It computes nothing of its own."""

from collections.abc import Mapping
from typing import Any

from app.core.completing import waits_for
from app.core.limits import SupplyState
from app.core.procedure import Designator, StepId
from app.core.rounds import RoundState, round_states
from app.core.situation import Situation
from app.core.watch import Answer, Flag, Made, Poll


def watch_report(situation: Situation) -> dict[str, Any]:
    """``{"at_s", "called", "counts", "holds", "polls", "rounds", "supplies", "tools", "flags"}``.

    Times are elapsed seconds. `holds` are the open ones; `tools` are all of the procedure's.
    """
    watch, progress = situation.state.watch, situation.state.progress
    return {
        "at_s": situation.at_s,
        "called": [_called(situation, step) for step in progress.called],
        "counts": {step: [each.at_s for each in counted] for step, counted in progress.counts.items() if counted},
        "holds": [
            _hold(situation, number)
            for number, step in enumerate(situation.network.steps)
            if step.go and situation.is_open(number)
        ],
        "polls": [_poll(poll) for poll in watch.polls.values()],
        "rounds": [_round(state) for state in round_states(situation)],
        "supplies": [_supply(state) for state in situation.gauges],
        "tools": [_tool(situation, tool) for tool in situation.procedure.tools],
        "flags": [_flag(flag) for flag in watch.flags.values()],
    }


def _called(situation: Situation, step_id: StepId) -> dict[str, Any]:
    call = situation.state.progress.called[step_id]
    return {
        "step": step_id,
        "at_s": call.at_s,
        "by": call.by,
        "values": dict(call.values),
        "waits_for": list(waits_for(situation.step(step_id), call)),
    }


def _hold(situation: Situation, number: int) -> dict[str, Any]:
    step = situation.network.steps[number]
    return {
        "step": step.id,
        "reached": not situation.open_before(number),
        "missing": list(situation.missing_go(step)),
        "answers": _answers(situation.state.answers.get(step.id, {})),
    }


def _answers(answers: Mapping[Designator, Answer]) -> list[dict[str, Any]]:
    return [
        {
            "person": person,
            "go": answer.go,
            "at_s": answer.at_s,
            "reason": answer.reason,
            "by": answer.by,
            "heard": answer.heard,
        }
        for person, answer in answers.items()
    ]


def _poll(poll: Poll) -> dict[str, Any]:
    return {
        "poll": poll.id,
        "question": poll.question,
        "who": list(poll.who),
        "called_s": poll.called_s,
        "closed_s": poll.closed_s,
        "closed_because": poll.closed_because,
        "missing": list(poll.missing),
        "answers": _answers(poll.answers),
    }


def _round(state: RoundState) -> dict[str, Any]:
    return {
        "round": state.round.name,
        "person": state.person or None,
        "due_s": state.due_s,
        "phase": str(state.phase),
        "last": None if state.last is None else _made(state.last),
    }


def _made(made: Made) -> dict[str, Any]:
    return {"seq": made.seq, "at_s": made.at_s, "good": made.good, "answer": made.answer, "by": made.by}


def _supply(state: SupplyState) -> dict[str, Any]:
    return {
        "supply": state.supply.name,
        "person": state.person or None,
        "unit": state.supply.unit,
        "reserve": state.supply.reserve,
        "readings": [
            {"seq": each.seq, "at_s": each.at_s, "value": each.value, "anew": each.anew} for each in state.readings
        ],
        "rate_per_hour": None if state.fitted is None else state.fitted.slope * 3600,
        "reserve_at_s": state.left.until_s,
        "why_not": state.left.why_not,
    }


def _tool(situation: Situation, tool: str) -> dict[str, Any]:
    place = situation.state.watch.tools.get(tool)
    if place is None:
        return {"tool": tool, "how": None, "person": None, "where": "", "reason": "", "at_s": None}
    return {
        "tool": tool,
        "how": place.how,
        "person": place.person,
        "where": place.where,
        "reason": place.reason,
        "at_s": place.at_s,
    }


def _flag(flag: Flag) -> dict[str, Any]:
    return {
        "flag": flag.seq,
        "at_s": flag.at_s,
        "by": flag.by,
        "text": flag.text,
        "step": flag.step,
        "person": flag.person,
        "round": flag.round or None,
    }
