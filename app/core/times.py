"""Elapsed times, durations and instants: reads and writes them. It never asks what time it is.

Three kinds that are never mixed up, because none is ever a bare number of unknown unit:

- a *clock* is an elapsed time since the run's zero, ``h:mm`` or ``h:mm:ss``, hours without end;
- a *duration* says its units, ``1 h 30 min`` or ISO 8601 ``PT1H30M``;
- an *instant* is a moment in UTC, RFC 3339 or CCSDS 301.0-B-4 ASCII code A or B.

Clocks and durations are whole seconds everywhere in Leadline.
"""

import re
from datetime import UTC, datetime, timedelta

from app.core.quoting import quoted

LONGEST_S = 10_000 * 3600
"""No clock or duration may reach 10,000 hours: a longer one is a slip of the pen. Our own bound, no source."""

_CLOCK = re.compile(r"([0-9]{1,4}):([0-5][0-9])(?::([0-5][0-9]))?")
_UNITS = {"h": 3600, "min": 60, "m": 60, "s": 1}
_PART = re.compile(r"([0-9]{1,7})\s*(h|min|m|s)(?![a-z])\s*")
_ISO = re.compile(
    r"P(?:(?P<w>[0-9]{1,4})W|(?:(?P<d>[0-9]{1,4})D)?"
    r"(?:T(?=[0-9])(?:(?P<h>[0-9]{1,6})H)?(?:(?P<m>[0-9]{1,7})M)?(?:(?P<s>[0-9]{1,8})S)?)?)"
)
_INSTANT = re.compile(
    r"(?P<year>[0-9]{4})-(?:(?P<month>[0-9]{2})-(?P<day>[0-9]{2})|(?P<doy>[0-9]{3}))"
    r"[Tt](?P<hour>[0-9]{2}):(?P<minute>[0-9]{2})(?::(?P<second>[0-9]{2})(?:\.(?P<part>[0-9]{1,9}))?)?"
    r"(?P<zone>[Zz]|[+-][0-9]{2}:[0-9]{2})?"
)


class TimeFault(ValueError):
    """A text that is not the time it should be. ``str()`` says what is wrong; ``remedy`` how to write it."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.remedy = remedy


def read_clock(text: str) -> int:
    """Elapsed seconds of ``h:mm`` or ``h:mm:ss``.

    Raises:
        TimeFault: the text is not a clock position below 10,000 hours.
    """
    found = _CLOCK.fullmatch(text.strip())
    if not found:
        raise TimeFault(f"{quoted(text)} is not an elapsed time", "write h:mm or h:mm:ss, for example 1:05 or 1:05:30")
    hours, minutes, seconds = (int(part or 0) for part in found.groups())
    return hours * 3600 + minutes * 60 + seconds


def read_duration(text: str) -> int:
    """Whole seconds of ``8 min``, ``1 h 30 min``, ``45 s`` or an ISO 8601 / RFC 5545 duration such as ``PT8M``.

    Years and months of ISO 8601 have no fixed length and are refused.

    Raises:
        TimeFault: no unit, an unknown unit, a unit twice or out of order, or 10,000 hours and more.
    """
    said = text.strip()
    seconds = _iso_seconds(said) if said.startswith("P") else _unit_seconds(said)
    if seconds is None:
        remedy = "write the unit, for example 8 min, 1 h 30 min, 45 s or PT8M"
        if said.isdigit():
            raise TimeFault(f"{quoted(text)} does not say its unit", remedy)
        raise TimeFault(f"{quoted(text)} is not a duration", remedy)
    if seconds >= LONGEST_S:
        raise TimeFault(f"{quoted(text)} is 10,000 hours or more", "write a shorter duration")
    return seconds


def _unit_seconds(said: str) -> int | None:
    total, at, last = 0, 0, LONGEST_S
    for found in _PART.finditer(said):
        unit = _UNITS[found[2]]
        if found.start() != at or unit >= last:
            return None
        total, at, last = total + int(found[1]) * unit, found.end(), unit
    return total if at == len(said) and at else None


def _iso_seconds(said: str) -> int | None:
    found = _ISO.fullmatch(said)
    if not found or said in {"P", "PT"} or not any(found.groupdict().values()):
        return None
    size = {"w": 604_800, "d": 86_400, "h": 3600, "m": 60, "s": 1}
    return sum(int(value) * size[name] for name, value in found.groupdict().items() if value)


def clock(elapsed_s: int) -> str:
    """``02:14:37``; below zero ``−00:00:10``, with a true minus sign."""
    sign, rest = ("−", -elapsed_s) if elapsed_s < 0 else ("", elapsed_s)
    return f"{sign}{rest // 3600:02d}:{rest // 60 % 60:02d}:{rest % 60:02d}"


def clock_short(elapsed_s: int) -> str:
    """``02:14``, for lists where seconds would only be noise. Rounds down, as a clock does."""
    return clock(elapsed_s)[:-3]


def duration(seconds: int) -> str:
    """``6m 10s``, ``1h 05m``, ``45s``, ``8m``: always with unit letters, never negative.

    From one hour up, seconds are shown only when there are any: ``1h 05m 10s``.
    """
    rest = abs(seconds)
    hours, minutes, last = rest // 3600, rest // 60 % 60, rest % 60
    parts = []
    if hours:
        parts.append(f"{hours}h")
    if minutes or hours:
        parts.append(f"{minutes:02d}m" if hours else f"{minutes}m")
    if last or not parts:
        parts.append(f"{last:02d}s" if parts else f"{last}s")
    return " ".join(parts)


def lead_words(lead_s: int, within_s: int = 0) -> str:
    """``6m 10s ahead``, ``3m 25s behind`` or ``on plan``; never a bare sign.

    Args:
        lead_s: plan minus projection, seconds.
        within_s: a lead of at most this size either way reads "on plan".
    """
    if abs(lead_s) <= within_s:
        return "on plan"
    return f"{duration(lead_s)} {'ahead' if lead_s > 0 else 'behind'}"


def read_instant(text: str) -> datetime:
    """An instant in UTC from RFC 3339 (5.6), or CCSDS 301.0-B-4 (3.5.1) ASCII code A or B and their subsets.

    A CCSDS text without a zone is UTC, as that standard says. A leap second, ``:60`` at the end of a UTC
    minute 23:59, reads as the first second of the next day, as POSIX time does.

    Raises:
        TimeFault: not such a text, or no such date.
    """
    remedy = "write UTC as 2031-05-04T07:00:00Z or by day of year as 2031-124T07:00:00Z"
    found = _INSTANT.fullmatch(text.strip())
    if not found:
        raise TimeFault(f"{quoted(text)} is not a date and time", remedy)
    try:
        return _instant(found)
    except (ValueError, OverflowError) as error:
        raise TimeFault(f"{quoted(text)} is no such date and time", remedy) from error


def _instant(found: re.Match[str]) -> datetime:
    second = int(found["second"] or 0)
    micro = int((found["part"] or "0").ljust(6, "0")[:6])
    year = int(found["year"])
    if found["doy"]:
        day = datetime(year, 1, 1, tzinfo=UTC) + timedelta(days=int(found["doy"]) - 1)
        if day.year != year:
            raise ValueError("no such day of that year")
    else:
        day = datetime(year, int(found["month"]), int(found["day"]), tzinfo=UTC)
    at = day.replace(hour=int(found["hour"]), minute=int(found["minute"]), second=min(second, 59), microsecond=micro)
    at -= _zone(found["zone"] or "Z")
    if second > 60 or (second == 60 and (at.hour, at.minute) != (23, 59)):
        raise ValueError("no such second")
    return at + timedelta(seconds=1) if second == 60 else at


def _zone(zone: str) -> timedelta:
    if zone in "Zz":
        return timedelta(0)
    hours, minutes = int(zone[1:3]), int(zone[4:6])
    if hours > 23 or minutes > 59:
        raise ValueError("no such offset")
    return timedelta(hours=hours, minutes=minutes) * (-1 if zone[0] == "-" else 1)


def instant(at: datetime) -> str:
    """RFC 3339 in UTC with milliseconds, ``2031-05-04T07:00:00.000Z``.

    Raises:
        ValueError: ``at`` has no time zone.
    """
    if at.tzinfo is None:
        raise ValueError("an instant needs its time zone")
    return at.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
