"""The rows in the order of the table, each with its size in a short run and in a long one. It tries nothing itself."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from tests.harm import (
    backups,
    clocks,
    crash,
    far_stations,
    full_disk,
    hostile,
    neighbours,
    owning,
    power,
    presses,
    replay,
    screens,
    stations,
    stopping,
    tampering,
    upgrades,
)
from tests.harm.table import Row, of_trials

SCREENS = 50


@dataclass(frozen=True, slots=True)
class Promise:
    """`make(size)` tries it; `size` counts what its row counts first: cycles, acknowledgements, runs."""

    name: str
    short: int
    long: int
    make: Callable[[int], Row]


def _stations(histories: int) -> Row:
    """Near ones in this process, and far ones over HTTP with the server killed between."""
    near, far = stations.row(histories), far_stations.history(stations=3, orders=2 * histories + 10)
    figures = {
        **near.figures,
        "orders over HTTP": len(far.history),
        "with kills between": far.kills,
        "tries unanswered": far.unanswered,
        "violations of these": len(far.wrong),
    }
    return replace(near, figures=figures, broken=(*near.broken, *far.wrong[:5]))


def _rewriting(_: int) -> Row:
    how = "UPDATE, DELETE, INSERT OR REPLACE and the like as the application's own writing connection"
    return of_trials("nothing is rewritten", how, tampering.rewriting)


def _tampering(files: int) -> Row:
    how = "every stored event flipped, deleted, swapped; tails cut, with a head kept elsewhere; files damaged"
    runs = (1,) if files < 50 else (1, 2, 3)
    return of_trials("tampering shows", how, lambda: tampering.tampering(runs), lambda: tampering.damaged_files(files))


def _screens(cuts: int) -> Row:
    how = "links cut, servers started again, one 503: every screen ends at the last seq"
    return of_trials("screens miss nothing", how, lambda: screens.cut_screens(cuts, SCREENS))


def _backups(tries: int) -> Row:
    how = "backups taken under load, checked, restored; beside it plain copies of the file"
    return of_trials("backups are whole", how, lambda: backups.backups_under_load(tries))


def _upgrades(kills: int) -> Row:
    how = "populated files of every revision up, down and up, and killed in the middle"
    return of_trials("upgrades keep data", how, lambda: upgrades.upgrades(kills))


PROMISES = (
    Promise("crash", 3, 60, crash.row),
    Promise("power", 40, 800, power.row),
    Promise("presses", 40, 200, presses.row),
    Promise("stations", 6, 120, _stations),
    Promise("disk", 1, 5, full_disk.row),
    Promise("rewriting", 1, 1, _rewriting),
    Promise("tampering", 5, 100, _tampering),
    Promise("replay", 6, 150, replay.row),
    Promise("screens", 3, 20, _screens),
    Promise("backups", 2, 10, _backups),
    Promise("upgrades", 2, 25, _upgrades),
    Promise("owner", 1, 5, owning.row),
    Promise("clocks", 1, 4, clocks.row),
    Promise("stopping", 1, 5, stopping.row),
    Promise("hostile", 1, 2, hostile.row),
    Promise("servers", 2, 24, neighbours.row),
)
