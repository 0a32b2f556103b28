"""Replay on the pages of a run: the parts of its bar, and the address from which a page leads into it."""

from dataclasses import dataclass

from app.core.events import Logged
from app.core.fold import happened_s
from app.core.procedure import Procedure
from app.core.situation import Situation
from app.core.times import clock
from app.service.seeking import Moments
from app.web.depends import Shell
from app.web.render import Part, Renderer
from app.web.views.replay import Replay, replay

LOOK_S = 0.25
"""One request looks so long for where the lead turned, if it asks for that. The page asks again while more is to do."""


@dataclass(frozen=True, slots=True)
class Seeking:
    """What the bar is made from; `procedure` has the steps that the run added, whenever that was."""

    moments: Moments
    procedure: Procedure


def seeking(shell: Shell, run: int, look: bool) -> Seeking:
    """`look`: go on looking for where the lead turned. Raises NoSuchRun."""
    live = shell.service.run(run)
    added = tuple(each.task for each in live.state.added.values())
    return Seeking(shell.lookout.moments(run, LOOK_S if look else 0), live.prepared.amended(added).procedure)


def replay_parts(renderer: Renderer, found: Seeking, at_s: int) -> tuple[Part, ...]:
    """The bar, and what is jumped to."""
    told: Replay = replay(found.moments, found.procedure, at_s)
    return (
        renderer.part("replay", "_replay.html", replay=told),
        renderer.part("replay-jumps", "_replay_jumps.html", replay=told),
    )


def replay_address(run: int, page: str, with_past: bool, situation: Situation, log: list[Logged]) -> str:
    """Where a page that shows the present leads into Replay: of a run that goes on its last event, else its beginning.

    A page that has no past leads to the Desk.
    """
    over = situation.state.ended_s is not None
    at_s = 0 if over or not log else min(happened_s(log[-1]), situation.at_s)
    return f"/runs/{run}/{page if with_past else 'desk'}?at={clock(at_s)}"
