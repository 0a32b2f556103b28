"""Instants as they are stored: RFC 3339 in UTC, to the millisecond. It reads no clock."""

from datetime import datetime

from app.core.times import instant

stamp = instant


def read_stamp(text: str) -> datetime:
    """The instant of a stored text, in UTC. Quick, and only for what `stamp` wrote.

    Raises:
        ValueError: it is not such a text.
    """
    return datetime.fromisoformat(text)


def rounded(at: datetime) -> datetime:
    """The instant as it will be read back.

    Raises:
        ValueError: it has no time zone.
    """
    return read_stamp(stamp(at))
