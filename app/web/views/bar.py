"""The bar on top of every page of a run: which run, what time, ahead or behind, when it finishes."""

from dataclasses import dataclass

from app.core.fold import State
from app.core.procedure import Procedure
from app.core.situation import Situation
from app.core.times import clock
from app.core.turn_back import WARN_S, Phase, TurnBack, turn_back
from app.web.views.figures import Lead, team_lead


@dataclass(frozen=True, slots=True)
class Tab:
    name: str
    address: str
    here: bool


@dataclass(frozen=True, slots=True)
class TurnBackWords:
    """The turn-back time on the bar, in one of three phases; `templates/_bar.html` has the words of each.

    Attributes:
        phase: ``later``, ``soon`` or ``passed``.
        by, limit: clocks; `by` is None when no start of close-out at all ends by the limit.
        by_s, soon_from_s: the same and the first second of `soon`, for the script that counts down by its own clock.
    """

    phase: Phase
    by: str | None
    limit: str
    by_s: int | None
    soon_from_s: int | None


@dataclass(frozen=True, slots=True)
class Bar:
    """Attributes: `past` is the ``?at=`` moment that is shown, in words, or None for now."""

    run: int
    title: str
    about: str
    revision: str
    kind: str
    seq: int
    elapsed: str
    at_s: int
    lead: Lead
    plan_finish: str
    limit: str | None
    past_limit: bool
    turn_back: TurnBackWords | None
    past: str | None
    ended: str | None
    end_reason: str
    tabs: tuple[Tab, ...]


def bar(run: int, situation: Situation, here: str, past: bool) -> Bar:
    """`here` is the last part of the page's address: ``desk``, ``lead``, ``list/EV1``, ``log`` or ``plan``."""
    state, procedure = situation.state, situation.procedure
    limit = procedure.limits.finish_s
    return Bar(
        run=run,
        title=procedure.title,
        about=_first_sentence(procedure),
        revision=state.revision[:7],
        kind=state.kind,
        seq=state.seq,
        elapsed=clock(situation.at_s),
        at_s=situation.at_s,
        lead=team_lead(situation),
        plan_finish=clock(situation.plan.end_s),
        limit=None if limit is None else clock(limit),
        past_limit=limit is not None and situation.projection.end_s > limit,
        turn_back=_turn_back(turn_back(situation)),
        past=clock(situation.at_s) if past else None,
        ended=_ended(state),
        end_reason=state.end_reason,
        tabs=tabs(run, procedure, here, situation.at_s if past else None),
    )


def _turn_back(found: TurnBack | None) -> TurnBackWords | None:
    if found is None:
        return None
    by_s = found.by_s
    return TurnBackWords(
        phase=found.phase,
        by=None if by_s is None else clock(by_s),
        limit=clock(found.limit_s),
        by_s=by_s,
        soon_from_s=None if by_s is None else by_s - WARN_S,
    )


def _ended(state: State) -> str | None:
    return None if state.ended_s is None else clock(state.ended_s)


def _first_sentence(procedure: Procedure) -> str:
    return procedure.about.split(". ")[0].rstrip(".")


def tabs(run: int, procedure: Procedure, here: str, at_s: int | None) -> tuple[Tab, ...]:
    """The pages of a run. At a past moment the links that can show it keep it."""
    first = procedure.crew[0].designator if procedure.crew else None
    pages = [("Desk", "desk"), ("Lead board", "lead")]
    if first:
        pages.append(("My list", here if here.startswith("list/") else f"list/{first}"))
    pages += [("Log", "log"), ("Plan", "plan")]
    moment = "" if at_s is None else f"?at={clock(at_s)}"
    return tuple(
        Tab(name, f"/runs/{run}/{page}{moment if page not in ('log', 'plan') else ''}", page == here)
        for name, page in pages
    )
