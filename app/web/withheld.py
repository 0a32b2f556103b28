"""What the log of a rehearsal keeps from trainees until it has ended: the trouble that is to come."""

from collections.abc import Iterable
from typing import Any

from app.core.events import Logged
from app.core.rehearsal import is_kept_from_trainees
from app.core.state import State
from app.service.rights import allows
from app.service.values import logged_json

WITHHELD = "Withheld"
"""In place of the kind of such an event."""


def may_see_all(state: State, may: str) -> bool:
    """Whether somebody with this right may read the whole log now: whoever trains, and all once the run has ended."""
    return state.ended_s is not None or not state.rehearsal.set or (bool(may) and allows(may, "train"))


def seen(log: list[Logged], state: State, may: str) -> list[Logged]:
    """The log without what somebody with this right may not read yet."""
    if may_see_all(state, may):
        return log
    return [logged for logged in log if not is_kept_from_trainees(logged.event)]


def told(log: Iterable[Logged], state: State, may: str) -> list[dict[str, Any]]:
    """The log as the API shows it; an event that is kept from the reader has its place, but no more."""
    whole = may_see_all(state, may)
    return [
        logged_json(logged)
        if whole or not is_kept_from_trainees(logged.event)
        else logged_json(logged) | {"kind": WITHHELD, "body": {}, "by": "", "station": ""}
        for logged in log
    ]
