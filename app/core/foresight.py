"""What is ahead as plain JSON values, the fixed form that scripts rely on. It computes nothing of its own."""

from typing import Any

from app.core.chain import Link
from app.core.forecast import Forecast, Spread
from app.core.outlook import Comparison, Outlook
from app.core.putting_off import Option
from app.core.situation import Situation


def outlook_report(outlook: Outlook) -> dict[str, Any]:
    """``{"at_s", "seq", "forecast", "putting_off", "best_set", "critical_chain"}``; times in elapsed seconds."""
    best = outlook.best
    return {
        "at_s": outlook.situation.at_s,
        "seq": outlook.situation.state.seq,
        "forecast": forecast_report(outlook.forecast),
        "putting_off": {
            "exact": outlook.options.exact,
            "of": outlook.options.of,
            "options": [
                _option(option, chance) for option, chance in zip(outlook.options.options, outlook.chances, strict=True)
            ],
        },
        "best_set": None
        if best is None
        else {
            "tasks": [task for task, _ in best.work],
            "lead_after_s": best.lead_after_s,
            "finish_after_s": best.finish_after_s,
            "chance": outlook.best_chance,
            "exact": best.exact,
        },
        "critical_chain": [_link(outlook.situation, link) for link in outlook.chain],
    }


def forecast_report(forecast: Forecast | None) -> dict[str, Any] | None:
    """``{"draws", "team", "crew", "windows"}``; None when nothing is left to do."""
    if forecast is None:
        return None
    return {
        "draws": forecast.draws,
        "team": _spread(forecast.team),
        "crew": {person: _spread(spread) for person, spread in forecast.people.items()},
        "windows": [
            {
                "window": each.window,
                "task": each.task,
                "opens_s": each.opens_s,
                "closes_s": each.closes_s,
                "chance": each.chance,
            }
            for each in forecast.windows
        ],
    }


def _spread(spread: Spread) -> dict[str, Any]:
    return {
        "ten_in_a_hundred_by_s": spread.tenth_s,
        "half_by_s": spread.half_s,
        "nine_in_ten_by_s": spread.nine_tenths_s,
        "chance": spread.chance,
    }


def _option(option: Option, chance: int | None) -> dict[str, Any]:
    return {
        "tasks": list(option.tasks),
        "along": list(option.along),
        "worth_lost": option.worth,
        "wins_s": option.wins_s,
        "finish_s": option.finish_s,
        "lead_s": option.lead_s,
        "room_s": option.room_s,
        "chance": chance,
        "meets_plan": option.meets_plan,
        "meets_limit": option.meets_limit,
        "exact": option.exact,
    }


def _link(situation: Situation, link: Link) -> dict[str, Any]:
    return {
        "step": situation.id(link.step),
        "who": list(situation.network.steps[link.step].who),
        "start_s": link.start_s,
        "finish_s": link.finish_s,
        "because": str(link.because),
        "gain_s": link.gain_s,
    }


def tried_report(tried: Comparison) -> dict[str, Any]:
    """``{"changes", "present", "then"}``: each change with what it would log, and the figures without and with them."""
    return {
        "changes": [{"said": change.said, "would_log": change.words} for change in tried.supposed.changes],
        "present": _standing(tried.before, tried.forecast_before),
        "then": _standing(tried.supposed.then, tried.forecast_then),
    }


def _standing(situation: Situation, forecast: Forecast | None) -> dict[str, Any]:
    return {
        "lead_s": situation.lead_s,
        "projected_finish_s": situation.projection.end_s,
        "room_s": situation.room_s,
        "crew": {view.designator: {"lead_s": view.lead_s, "next": view.next} for view in situation.crew},
        "forecast": forecast_report(forecast),
    }
