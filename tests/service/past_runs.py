"""Runs of SMALL that were made and ended before, for what is told over several of them. It checks nothing."""

from collections.abc import Mapping

from app.core.commands import EndRun
from app.core.commands_rehearsal import SetPlayers
from app.core.procedure import StepId
from app.service.runs import Service
from tests.service.making import SMALL, SetClock, done, sender

MARKS: tuple[Mapping[StepId, int], ...] = (
    {"rig/1": 360, "rig/2": 1020, "wire/1": 1680, "paint/1": 1700},
    {"rig/1": 400, "rig/2": 1100, "wire/1": 1740, "paint/1": 1650},
    {"rig/1": 380, "rig/2": 1050, "wire/1": 1700},
)
"""Three runs: the elapsed second of each mark. ``rig/1``, planned at 5 min, took 6m, 6m 40s and 6m 20s."""


def past_run(
    service: Service,
    clock: SetClock,
    marks: Mapping[StepId, int],
    kind: str = "rehearsal",
    text: bytes = SMALL,
    players: tuple[str, ...] = (),
) -> int:
    """A run whose zero is now, with these marks, then ended; `players` are simulated from its zero on."""
    run = service.start_run(service.shelf.load(text, "mast.yaml").hash, kind, sender())
    zero_s = clock.at_s
    if players:
        service.order(run, SetPlayers(players, 7), sender()).result()
    for step, at_s in sorted(marks.items(), key=lambda each: each[1]):
        clock.at_s = zero_s + at_s
        done(service, run, step)
    service.order(run, EndRun("done"), sender()).result()
    return run


def past_runs(service: Service, clock: SetClock) -> tuple[int, ...]:
    """The three runs of `MARKS`, the last one live."""
    kinds = ("rehearsal", "rehearsal", "live")
    return tuple(past_run(service, clock, marks, kind) for marks, kind in zip(MARKS, kinds, strict=True))
