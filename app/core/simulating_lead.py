"""The simple lead of a run in which everybody is simulated: it lets the run come to its end. See `simulating`.

It accepts what is out of tolerance after a minute, gives up a tool that was lost, and ends the run when nothing is
left to do. It takes no optional work and puts nothing off. While a trainee is in the run, the lead is theirs.
"""

from collections.abc import Iterator

from app.core.commands import EndRun
from app.core.commands_live import AcceptValues, MoveTool
from app.core.custody import HELD, not_back
from app.core.simulating_cast import LEAD, Act, Cast, all_over, last_mark_s, not_before
from app.core.situation import Situation
from app.core.words_live import outside

ACCEPTS_S = 60
GIVES_UP_S = 120
ENDS_S = 60
"""After a call out of tolerance; after the last mark, with tools not back; after all is accounted for. Our own."""


def lead_acts(situation: Situation, cast: Cast) -> Iterator[Act]:
    if not cast.everybody:
        return
    for name, call in situation.state.progress.called.items():
        step = situation.step(name)
        if call.accepted is None and outside(step, call.values) and not situation.missing_go(step):
            at_s = not_before(situation, step, max(call.at_s + ACCEPTS_S, call.confirmed_s or 0))
            yield Act(at_s, AcceptValues(name, "read again, and it stays so; carry on"), LEAD)
    if all_over(situation):
        yield from _end(situation)


def _end(situation: Situation) -> Iterator[Act]:
    last_s, out = last_mark_s(situation), tuple(not_back(situation))
    for tool, place in out:
        at_s = max(last_s, place.at_s) + GIVES_UP_S
        if place.how == "lost":
            yield Act(at_s, MoveTool(tool, "left outside", reason="not found again"), LEAD)
        elif place.how not in HELD:
            yield Act(at_s, MoveTool(tool, "stowed"), LEAD)
    if not out:
        moved = (place.at_s for place in situation.state.watch.tools.values())
        yield Act(max([last_s, *moved]) + ENDS_S, EndRun("All steps are done."), LEAD)
