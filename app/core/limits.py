"""The time that a run must not pass: the file's limit, or the supply that is at its reserve before that."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from app.core.procedure import Procedure, Supply
from app.core.supplies import Line, TimeLeft, fitted, time_to_reserve
from app.core.watch import Reading, Watch, Who

RISE_PART = 10
"""A gauge may wobble; a rise by more than this part of the way from its first reading to the reserve is no wobble. Our
own bound, no source."""


@dataclass(frozen=True, slots=True)
class RunLimit:
    """`at_s`: elapsed seconds. `supply` and `person` say what runs out; both empty for the file's own limit."""

    at_s: int
    supply: str = ""
    person: Who = ""

    @property
    def by(self) -> str:
        """``EV2 battery at reserve``; empty for the file's own limit."""
        return f"{self.person} {self.supply} at reserve".strip() if self.supply else ""

    @property
    def words(self) -> str:
        """``limit``, or ``limit, EV2 battery at reserve``: its name on the screens."""
        return f"limit, {self.by}" if self.supply else "limit"


@dataclass(frozen=True, slots=True)
class SupplyState:
    """One gauge: its readings since it was last exchanged or filled, the line through them, and the time left."""

    supply: Supply
    person: Who
    readings: tuple[Reading, ...]
    fitted: Line | None
    left: TimeLeft

    @property
    def rise(self) -> float:
        """By how much the last reading is above the one before, if that is more than a wobble; else 0.

        Such a reading counts like any other. It may be that the supply was exchanged or filled and nobody said so.
        """
        if len(self.readings) < 2:
            return 0.0
        found = self.readings[-1].value - self.readings[-2].value
        return found if found > abs(self.readings[0].value - self.supply.reserve) / RISE_PART else 0.0


def supply_states(procedure: Procedure, watch: Watch) -> tuple[SupplyState, ...]:
    """Every gauge of the procedure, supplies and their people in file order."""
    return tuple(_state(supply, person, watch) for supply in procedure.supplies for person in (supply.who or ("",)))


def _state(supply: Supply, person: Who, watch: Watch) -> SupplyState:
    readings = watch.readings.get(supply.name, {}).get(person, ())
    fresh = max((place for place, reading in enumerate(readings) if reading.anew), default=0)
    since = readings[fresh:]
    points = [(reading.at_s, reading.value) for reading in since]
    return SupplyState(supply, person, since, fitted(points), time_to_reserve(points, supply.reserve))


def run_limit(finish_s: int | None, gauges: Iterable[SupplyState]) -> RunLimit | None:
    """The earliest of the file's limit and each gauge's time to reserve, rounded down; None if there is neither.

    Source: "Turn-back" in the design.
    """
    found = [] if finish_s is None else [RunLimit(finish_s)]
    found += [
        RunLimit(math.floor(each.left.until_s), each.supply.name, each.person)
        for each in gauges
        if each.left.until_s is not None
    ]
    return min(found, key=lambda limit: limit.at_s, default=None)
