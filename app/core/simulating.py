"""What simulated people do, and when: the orders that they, or ground support for them, would enter. It enters none.

Who is played, and with which seed, stands in the run's log, and so does what has happened. So what comes next is a
function of the state alone: not of the clock, its speed, or when somebody asked.

A simulated person never marks a step that somebody else has a part in, and never answers for somebody else. What is
nobody's is done when its time has come. The lead decides; only where everybody is simulated a simple one does
(`simulating_lead`).
"""

from dataclasses import replace

from app.core.simulating_cast import Act, Cast, cast_of
from app.core.simulating_lead import lead_acts
from app.core.simulating_steps import step_acts
from app.core.simulating_watch import watch_acts
from app.core.situation import Situation

__all__ = ["Act", "Cast", "acts", "cast_of", "due"]


def acts(situation: Situation) -> tuple[Act, ...]:
    """What simulated people will do if nothing else happens first, the earliest first; none in a run without them.

    Only the first is sure: each act may change what follows, so the rest must be asked for anew after it.
    """
    cast = cast_of(situation)
    if cast is None:
        return ()
    found = (*step_acts(situation, cast), *watch_acts(situation, cast), *lead_acts(situation, cast))
    clamped = (replace(act, at_s=max(act.at_s, cast.since_s)) for act in found)
    return tuple(sorted(clamped, key=lambda act: act.at_s))


def due(situation: Situation) -> tuple[Act, ...]:
    """Those of them that should have been done by now."""
    return tuple(act for act in acts(situation) if act.at_s <= situation.at_s)
