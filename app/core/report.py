"""Plan and situation as plain JSON values, the fixed form that scripts rely on. It computes nothing of its own."""

from typing import Any

from app.core.choices import Offer, offers
from app.core.situation import Prepared, Situation


def plan_report(prepared: Prepared) -> dict[str, Any]:
    """``{"plan_finish_s", "steps": [{"id", "start_s", "finish_s", "late_start_s", ...}]}``, nominal steps only."""
    return {
        "plan_finish_s": prepared.plan.end_s,
        "steps": [_planned(prepared, number) for number, nominal in enumerate(prepared.network.nominal) if nominal],
    }


def _planned(prepared: Prepared, number: int) -> dict[str, Any]:
    start_s, finish_s = prepared.plan.times(number)
    float_s = prepared.late.float_s(prepared.plan, number)
    return {
        "id": prepared.network.steps[number].id,
        "start_s": start_s,
        "finish_s": finish_s,
        "late_start_s": prepared.late.start_s[number],
        "late_finish_s": prepared.late.finish_s[number],
        "float_s": float_s,
        "critical": float_s == 0,
    }


def situation_report(situation: Situation) -> dict[str, Any]:
    """``{"at_s", "plan_finish_s", "projected_finish_s", "lead_s", "crew", "steps", "get_ahead"}``.

    `steps` are those of the run: the nominal ones and taken items, in file order.
    """
    return {
        "at_s": situation.at_s,
        "plan_finish_s": situation.plan.end_s,
        "projected_finish_s": situation.projection.end_s,
        "lead_s": situation.lead_s,
        "crew": {view.designator: {"lead_s": view.lead_s, "next": view.next} for view in situation.crew},
        "steps": [_projected(situation, number) for number in range(len(situation.states)) if situation.is_in(number)],
        "get_ahead": [_offered(offer) for offer in offers(situation)],
    }


def _projected(situation: Situation, number: int) -> dict[str, Any]:
    start_s, finish_s = situation.projection.times(number)
    state = situation.states[number]
    return {"id": situation.id(number), "state": str(state), "start_s": start_s, "finish_s": finish_s}


def _offered(offer: Offer) -> dict[str, Any]:
    return {
        "task": offer.task,
        "who": list(offer.who),
        "eligible": offer.eligible,
        "reason": offer.reason,
        "lead_after_s": offer.lead_after_s,
        "finish_after_s": offer.finish_after_s,
    }
