"""What is worked out in the process aside: the draws and all that is made of them. It keeps procedures, nothing else.

Its functions take what can be sent, a revision's name and states of runs, and give back what can be sent.
"""

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import fields

import numpy as np

from app.core.forecast import Draws, Forecast, forecast
from app.core.outlook import Ahead, outlook
from app.core.procedure import Procedure
from app.core.situation import Prepared, Situation
from app.core.state import State

KEPT = 16
"""Procedures that are kept ready."""

_prepared: OrderedDict[str, Prepared] = OrderedDict()


class NeedsProcedure(LookupError):
    """This process does not know the revision yet: send the procedure with it."""


def draw(situation: Situation) -> Draws:
    """The draws of a situation. The seed is the revision's, so the same state has the same forecast everywhere."""
    seed = int(situation.state.revision[:16] or "0", 16)
    return Draws(situation, np.random.Generator(np.random.SFC64(seed)))


def far_outlook(revision: str, procedure: Procedure | None, state: State, at_s: int) -> Ahead:
    """Raises NeedsProcedure."""
    found = outlook(Situation(_known(revision, procedure), state, at_s), draw)
    return Ahead(**{each.name: getattr(found, each.name) for each in fields(Ahead)})


def far_forecasts(
    revision: str, procedure: Procedure | None, states: Sequence[State], at_s: int
) -> tuple[Forecast | None, ...]:
    """One for each state. Raises NeedsProcedure."""
    prepared = _known(revision, procedure)
    return tuple(forecast(draw(Situation(prepared, state, at_s))) for state in states)


def _known(revision: str, procedure: Procedure | None) -> Prepared:
    if procedure is not None:
        _prepared[revision] = Prepared(procedure)
        while len(_prepared) > KEPT:
            _prepared.popitem(last=False)
    if revision not in _prepared:
        raise NeedsProcedure(revision)
    return _prepared[revision]
