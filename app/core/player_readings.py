"""What simulated people read: values of steps, and gauges. It knows no orders, and draws as `player_draws` does."""

import math

from app.core.procedure import StepId, Supply, Value
from app.core.shares import share


def good_value(value: Value, seed: int, step: StepId) -> float:
    """A reading well in tolerance: in the middle half of the band, or a little inside the one bound that there is."""
    drawn = share(seed, "value", step, value.name)
    if value.low is not None and value.high is not None:
        found = _rounded(value.low + (value.high - value.low) * (0.25 + drawn / 2), value.high - value.low)
        return found if value.in_tolerance(found) else value.low
    if value.low is None and value.high is None:
        return _rounded(8 + 4 * drawn, 10)
    bound = value.low if value.low is not None else value.high or 0.0
    step_in = (abs(bound) or 1.0) * (0.05 + drawn / 10)
    found = _rounded(bound + step_in if value.low is not None else bound - step_in, step_in)
    return found if value.in_tolerance(found) else bound


def bad_value(value: Value) -> float:
    """Out of tolerance by the width of the band; where there is one bound only, by half of what it is."""
    if value.low is not None and value.high is not None:
        return value.high + ((value.high - value.low) or abs(value.high) or 1.0)
    if value.high is not None:
        return value.high + (abs(value.high) / 2 or 1.0)
    return (value.low or 0.0) - (abs(value.low or 0.0) / 2 or 1.0)


def _rounded(reading: float, width: float) -> float:
    """To a tenth of the width's power of ten, as somebody reads a gauge."""
    return round(reading, 1 - math.floor(math.log10(width))) if width > 0 else reading


# Gauges

LASTS = (1.2, 2.0)
"""A simulated supply reaches its reserve after so many times the plan, evenly drawn: never before the plan's finish,
but sometimes before the file's limit. Our own, no source."""
_FULL_PARTS = 6
_NOISE = 0.003


def gauge(supply: Supply, person: str, seed: int, since_full_s: int, plan_s: int) -> float:
    """What the gauge shows `since_full_s` after it was full: a line with a little noise, never below zero.

    Full is 100 of a supply in per cent, else six times the reserve (100 where the reserve is not above 0).
    """
    in_per_cent = supply.unit == "%" and supply.reserve < 100
    full = 100.0 if in_per_cent or supply.reserve <= 0 else supply.reserve * _FULL_PARTS
    low, high = LASTS
    lasts_s = max(1.0, plan_s * (low + (high - low) * share(seed, "gauge", supply.name, person)))
    noise = (share(seed, "noise", supply.name, person, since_full_s) - 0.5) * 2 * _NOISE if since_full_s else 0.0
    width = full - supply.reserve
    found = full - width * since_full_s / lasts_s + noise * width
    return max(_rounded(found, width / 10), min(0.0, supply.reserve))
