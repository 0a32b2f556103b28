"""The bar on top of every page of a run: which run, what time, ahead or behind, when it finishes."""

from dataclasses import dataclass

from app.core.limits import RunLimit
from app.core.procedure import Procedure
from app.core.rehearsal import simulated_words
from app.core.situation import Situation
from app.core.state import State
from app.core.times import clock
from app.core.turn_back import WARN_S, Phase, TurnBack, turn_back
from app.web.views.figures import Lead, team_lead
from app.web.views.polls import poll_words


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
        by, limit: clocks, the limit with the supply that sets it; `by` is None when no start of close-out at all ends
            by the limit.
        by_s, soon_from_s: the same and the first second of `soon`, for the script that counts down by its own clock.
    """

    phase: Phase
    by: str | None
    limit: str
    by_s: int | None
    soon_from_s: int | None


@dataclass(frozen=True, slots=True)
class Bar:
    """`past` is the ``?at=`` moment that is shown, in words, or None for now. `polls`: the open ones, a line each.

    `flags`: how many are open, in words; empty when none is. `simulated`: who is, in words; empty if nobody.
    `pace`: how the clock of a rehearsal goes, where not as the world's; `trainer`: this is the trainer's page.
    `origin`: where an imported run came from, in words.
    """

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
    polls: tuple[str, ...]
    flags: str
    simulated: str
    pace: str
    trainer: bool
    tabs: tuple[Tab, ...]
    origin: str = ""


def bar(run: int, situation: Situation, here: str, past: bool) -> Bar:
    """`here` is the end of the page's address: ``desk``, ``lead``, ``list/EV1``, ``log``, ``handover`` or ``plan``."""
    state, procedure = situation.state, situation.procedure
    limit = situation.limit
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
        limit=None if limit is None else f"{limit.words} {clock(limit.at_s)}",
        past_limit=limit is not None and situation.projection.end_s > limit.at_s,
        turn_back=_turn_back(turn_back(situation), limit),
        past=clock(situation.at_s) if past else None,
        ended=_ended(state),
        end_reason=state.end_reason,
        polls=tuple(f"{poll.question} {poll_words(poll)}" for poll in state.watch.open_polls),
        flags=_flags(len(state.watch.flags)),
        simulated=simulated_words(state.rehearsal, situation.network.crew),
        pace="" if past or state.ended_s is not None else _pace(state.rehearsal.ruling.rate),
        trainer=here == "trainer",
        tabs=tabs(run, procedure, here, situation.at_s if past else None),
    )


def _turn_back(found: TurnBack | None, limit: RunLimit | None) -> TurnBackWords | None:
    if found is None:
        return None
    by_s = found.by_s
    return TurnBackWords(
        phase=found.phase,
        by=None if by_s is None else clock(by_s),
        limit=clock(found.limit_s) + (f" ({limit.by})" if limit and limit.by else ""),
        by_s=by_s,
        soon_from_s=None if by_s is None else by_s - WARN_S,
    )


def _flags(number: int) -> str:
    return "" if not number else "1 flag open" if number == 1 else f"{number} flags open"


def _pace(rate: float) -> str:
    return "" if rate == 1 else "stands" if rate == 0 else f"{rate:g}×"


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
    pages += [("Log", "log"), ("Handover", "handover"), ("Plan", "plan"), ("Debrief", "debrief")]
    moment = "" if at_s is None else f"?at={clock(at_s)}"
    return tuple(
        Tab(name, f"/runs/{run}/{page}{moment if page not in ('log', 'plan', 'debrief') else ''}", page == here)
        for name, page in pages
    )
