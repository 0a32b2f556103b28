"""Rounds: which is due, what it asks, how it was answered, the gauges read with it. It carries nothing out."""

from dataclasses import dataclass

from app.core.procedure import Designator, Supply
from app.core.rounds import RoundPhase, RoundState, round_states
from app.core.situation import Situation
from app.core.times import clock, duration
from app.core.watch import Made
from app.web.keys import NewKey

SIGNS = {"later": "○", "soon": "◔", "due": "●", "overdue": "■"}


@dataclass(frozen=True, slots=True)
class Gauge:
    """A reading that can be typed with a round: the supply, its unit, the id of the input."""

    supply: str
    unit: str
    id: str


@dataclass(frozen=True, slots=True)
class RoundRow:
    """`fig` is the figure that says when it is due. `last`: the last answer in words; `open`: it is to be made now."""

    name: str
    person: Designator
    asks: str
    every: str
    phase: RoundPhase
    sign: str
    fig: str
    last: str
    last_is_bad: bool
    open: bool
    gauges: tuple[Gauge, ...]
    id: str
    key: str


@dataclass(frozen=True, slots=True)
class Rounds:
    """`open`: soon, due and overdue ones; `later`: the rest."""

    open: tuple[RoundRow, ...]
    later: tuple[RoundRow, ...]


def rounds(situation: Situation, person: Designator | None, new_key: NewKey) -> Rounds:
    """For one person's list only that person's own."""
    rows = [
        _row(situation, each, new_key) for each in round_states(situation) if person is None or each.person == person
    ]
    return Rounds(tuple(row for row in rows if row.open), tuple(row for row in rows if not row.open))


def _row(situation: Situation, state: RoundState, new_key: NewKey) -> RoundRow:
    one = state.round
    # By its place in the file, not in the list: what is being typed stays with its round when another is answered.
    place = f"{situation.procedure.rounds.index(one)}-{one.who.index(state.person) if state.person else 0}"
    return RoundRow(
        name=one.name,
        person=state.person,
        asks=one.asks,
        every=duration(one.every_s),
        phase=state.phase,
        sign=SIGNS[state.phase],
        fig=round_fig(state),
        last=_last_words(state.last),
        last_is_bad=state.last is not None and not state.last.good,
        open=state.phase is not RoundPhase.LATER,
        gauges=tuple(
            Gauge(supply.name, supply.unit, f"gauge-{place}-{number}")
            for number, supply in enumerate(situation.procedure.supplies)
            if _reads(supply, state.person)
        ),
        id=f"round-{place}",
        key=new_key(),
    )


def _reads(supply: Supply, person: Designator) -> bool:
    """Whether somebody on a round reads this gauge: their own, or one that is nobody's."""
    return person in supply.who or not supply.who


def _last_words(made: Made | None) -> str:
    if made is None:
        return "not made yet"
    said = f": {made.answer}" if made.answer else ""
    return f"last {clock(made.at_s)}, {'good' if made.good else 'BAD'}{said}"


def round_fig(state: RoundState) -> str:
    return f"round-{state.round.name}-{state.person}"


def due_words(state: RoundState, at_s: int) -> str:
    """``due in 12m 05s``, ``DUE since 2m 10s``, ``OVERDUE, due 12m ago``."""
    left_s = state.due_s - at_s
    if left_s > 0:
        return f"due in {duration(left_s)}"
    if state.phase is RoundPhase.OVERDUE:
        return f"OVERDUE, due {duration(-left_s)} ago"
    return f"DUE, since {duration(-left_s)}" if left_s else "DUE now"


def round_figures(situation: Situation) -> dict[str, str]:
    return {round_fig(state): due_words(state, situation.at_s) for state in round_states(situation)}
