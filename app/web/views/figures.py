"""The figures that change every second, by name: the same text in the page and on the stream."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from app.core.choices import Offer
from app.core.procedure import StepId
from app.core.situation import Situation
from app.core.times import clock, clock_short, duration, lead_words
from app.core.turn_back import Phase, turn_back
from app.web.views.rounds import round_figures
from app.web.views.supplies import supply_figures

SIGNS = {"ahead": "▲", "behind": "▼", "even": "●"}


@dataclass(frozen=True, slots=True)
class Lead:
    """A lead in words, and its tone: ``ahead``, ``behind`` or ``even``, which picks a sign and a colour."""

    words: str
    tone: str

    @property
    def sign(self) -> str:
        return SIGNS[self.tone]


@lru_cache(4096)
def lead(lead_s: int, within_s: int) -> Lead:
    """Of many open steps it is the same, every second."""
    tone = "even" if abs(lead_s) <= within_s else "ahead" if lead_s > 0 else "behind"
    return Lead(lead_words(lead_s, within_s), tone)


def team_lead(situation: Situation) -> Lead:
    return lead(situation.lead_s, situation.procedure.on_plan_within_s)


def step_lead(situation: Situation, number: int) -> Lead | None:
    """A step's planned finish minus its actual or projected one; None for a step without a plan, or not in the run."""
    if not situation.network.nominal[number] or number in situation.facts.removed:
        return None
    lead_s = situation.plan.times(number)[1] - situation.projection.times(number)[1]
    return lead(lead_s, situation.procedure.on_plan_within_s)


def room_words(room_s: int | None) -> str:
    if room_s is None:
        return "no limit"
    return duration(room_s) if room_s >= 0 else f"{duration(room_s)} past the limit"


def float_words(float_s: int | None) -> str:
    if float_s is None:
        return "–"
    return duration(float_s) if float_s >= 0 else f"{duration(float_s)} short"


def timer_words(situation: Situation, step: StepId) -> str:
    """``4m 58s of 8m`` for a step under way."""
    number = situation.network.index[step]
    start_s = situation.projection.times(number)[0]
    return f"{duration(max(0, situation.at_s - start_s))} of {duration(situation.network.takes_s[number])}"


def turn_back_words(situation: Situation) -> str:
    """``in 12m 30s``, ``now`` or ``2m 05s ago``; empty when it is more than half an hour off, or there is none."""
    found = turn_back(situation)
    left_s = None if found is None or found.phase is Phase.LATER else found.left_s
    if left_s is None:
        return ""
    return "now" if left_s == 0 else f"in {duration(left_s)}" if left_s > 0 else f"{duration(left_s)} ago"


def figures(situation: Situation) -> dict[str, str]:
    """Name to text: `lead-EV1` and the like per person; `t-task/1`, when an open step starts; `s-task/1`, its lead."""
    within = situation.procedure.on_plan_within_s
    found = {
        "lead": team_lead(situation).words,
        "finish": clock(situation.projection.end_s),
        "room": room_words(situation.room_s),
        "turn-back": turn_back_words(situation),
    }
    for view in situation.crew:
        found[f"lead-{view.designator}"] = lead(view.lead_s, within).words
        found[f"float-{view.designator}"] = float_words(view.float_s)
        found[f"timer-{view.designator}"] = timer_words(situation, view.next) if view.next else ""
    found |= round_figures(situation) | supply_figures(situation)
    for number, state in enumerate(situation.states):
        if state is not None and situation.is_open(number):
            found[f"t-{situation.id(number)}"] = clock_short(situation.projection.times(number)[0])
            ahead = step_lead(situation, number)
            found[f"s-{situation.id(number)}"] = ahead.words if ahead else ""
    return found


def offer_figures(situation: Situation, offered: Sequence[Offer]) -> dict[str, str]:
    """For the Lead board: what each get-ahead item would leave, now."""
    found = {}
    within = situation.procedure.on_plan_within_s
    for offer in offered:
        found[f"after-{offer.task}"] = "" if offer.lead_after_s is None else lead(offer.lead_after_s, within).words
        found[f"ends-{offer.task}"] = "" if offer.finish_after_s is None else clock(offer.finish_after_s)
        found[f"why-{offer.task}"] = f"Not now: {offer.reason}" if offer.reason else ""
    return found


def run_figures(run: int, situation: Situation) -> dict[str, str]:
    """For the Home page, of one run among many."""
    return {
        f"elapsed-{run}": clock(situation.at_s),
        f"lead-{run}": team_lead(situation).words,
        f"finish-{run}": clock(situation.projection.end_s),
    }


def meters(situation: Situation) -> dict[str, float]:
    """Per person, how much of the step under way has passed, in per cent of its duration; at most 999."""
    found = {}
    for view in situation.crew:
        if view.next is not None:
            number = situation.network.index[view.next]
            start_s = situation.projection.times(number)[0]
            takes = max(1, situation.network.takes_s[number])
            found[view.designator] = round(min(999.0, max(0, situation.at_s - start_s) * 100 / takes), 1)
    return found
