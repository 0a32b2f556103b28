"""The situation as it would be if events that are not stored happened now. It stores nothing and refuses nothing."""

from collections.abc import Iterable
from datetime import UTC, datetime

from app.core.events import Event, Logged
from app.core.fold import fold
from app.core.situation import Situation

_NO_DAY = datetime(1970, 1, 1, tzinfo=UTC)
"""Events that are not stored have no date; nothing that is computed looks at it."""


def suppose(situation: Situation, events: Iterable[Event]) -> Situation:
    """The same moment, with `events` having happened at it, in this order."""
    at_s = situation.at_s
    logged = [
        Logged(seq, at_s, at_s, _NO_DAY, "", "", "", event)
        for seq, event in enumerate(events, start=situation.state.seq + 1)
    ]
    return Situation(situation.prepared, fold(logged, situation.state), at_s)
