"""Rounds, gauges and tools of a run, as they stood at its end and on the way there. It only reads."""

from collections.abc import Iterable
from dataclasses import dataclass

from app.core.custody import place_words
from app.core.events import Logged
from app.core.events_watch import ToolMoved
from app.core.limits import SupplyState
from app.core.procedure import Round
from app.core.rounds import near_s
from app.core.situation import Situation
from app.core.watch import Made, Reading, ToolPlace, Who
from app.core.words import sentence


@dataclass(frozen=True, slots=True)
class RoundMade:
    """`late_s`: how long after it was due; below 0 before that."""

    due_s: int
    at_s: int
    good: bool
    answer: str
    by: str

    @property
    def late_s(self) -> int:
        return self.at_s - self.due_s


@dataclass(frozen=True, slots=True)
class RoundTold:
    """One round of one person (empty where the file names nobody).

    Attributes:
        made: each time, in order. latest_s: the most that one was late, one still due counted; at least 0.
        overdue: how many were overdue, one still due counted: later than the boards allow (see `rounds.near_s`).
        due_s: when the next one is due. missed_s: since when that one is due and not made, seconds; None if it is not.
    """

    round: str
    asks: str
    person: Who
    every_s: int
    made: tuple[RoundMade, ...]
    latest_s: int
    overdue: int
    due_s: int
    missed_s: int | None


@dataclass(frozen=True, slots=True)
class GaugeTold:
    """One gauge. `readings` are all that count, also those before it was last exchanged or filled.

    `until_s`: when the reserve is reached by the line through the last ones, elapsed seconds; if None, `why_not`.
    `left_s`: that minus the end of what is told. `lowest`: None without a reading.
    """

    supply: str
    person: Who
    unit: str
    reserve: float
    readings: tuple[Reading, ...]
    lowest: Reading | None
    rate_per_hour: float | None
    until_s: int | None
    left_s: int | None
    why_not: str


@dataclass(frozen=True, slots=True)
class ToolTold:
    """`fate`: ``lost``, ``out``, ``left outside``, ``stowed`` or ``no record``. `words` say where it is."""

    tool: str
    fate: str
    words: str
    moves: tuple[tuple[int, str], ...]


FATES = ("lost", "out", "left outside", "stowed", "no record")


def rounds_told(situation: Situation) -> tuple[RoundTold, ...]:
    """Every round of every person in file order."""
    return tuple(_round(situation, one, person) for one in situation.procedure.rounds for person in (one.who or ("",)))


def _round(situation: Situation, one: Round, person: Who) -> RoundTold:
    entries = situation.state.watch.rounds.get(one.name, {}).get(person, ())
    due_s, made = one.every_s, list[RoundMade]()
    for entry in entries:
        made.append(_made(due_s, entry))
        due_s = entry.at_s + one.every_s
    missed_s = situation.at_s - due_s if situation.at_s > due_s else None
    late = [each.late_s for each in made] + ([] if missed_s is None else [missed_s])
    return RoundTold(
        round=one.name,
        asks=one.asks,
        person=person,
        every_s=one.every_s,
        made=tuple(made),
        latest_s=max([0, *late]),
        overdue=sum(1 for late_s in late if late_s > near_s(one)),
        due_s=due_s,
        missed_s=missed_s,
    )


def _made(due_s: int, entry: Made) -> RoundMade:
    return RoundMade(due_s, entry.at_s, entry.good, entry.answer, entry.by)


def gauges_told(situation: Situation) -> tuple[GaugeTold, ...]:
    """Every gauge, supplies and their people in file order."""
    return tuple(_gauge(situation, state) for state in situation.gauges)


def _gauge(situation: Situation, state: SupplyState) -> GaugeTold:
    readings = situation.state.watch.readings.get(state.supply.name, {}).get(state.person, ())
    until_s = None if state.left.until_s is None else int(state.left.until_s)
    return GaugeTold(
        supply=state.supply.name,
        person=state.person,
        unit=state.supply.unit,
        reserve=state.supply.reserve,
        readings=readings,
        lowest=min(readings, key=lambda each: each.value, default=None),
        rate_per_hour=None if state.fitted is None else state.fitted.slope * 3600,
        until_s=until_s,
        left_s=None if until_s is None else until_s - situation.at_s,
        why_not=state.left.why_not or "",
    )


def tools_told(situation: Situation, log: Iterable[Logged]) -> tuple[ToolTold, ...]:
    """Every tool of the file, those that are not accounted for first."""
    moves: dict[str, list[tuple[int, str]]] = {}
    for logged in log:
        if isinstance(logged.event, ToolMoved):
            said = sentence(logged.event, situation.procedure)
            moves.setdefault(logged.event.tool, []).append((logged.at_s, said))
    places = situation.state.watch.tools
    found = [
        ToolTold(tool, _fate(places.get(tool)), place_words(places.get(tool)), tuple(moves.get(tool, ())))
        for tool in situation.procedure.tools
    ]
    return tuple(sorted(found, key=lambda each: FATES.index(each.fate)))


def _fate(place: ToolPlace | None) -> str:
    if place is None:
        return "no record"
    return place.how if place.how in FATES else "out"
