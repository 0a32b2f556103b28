"""One owner: a second server on the same folder stops within two seconds, and names who has it."""

import threading
from contextlib import suppress

from tests.harm.server import NotStarted, Server, scratch
from tests.harm.spent import Took
from tests.harm.table import Row, unless
from tests.harm.wire import Line, start_run

PROMISE = "one owner"
WITHIN_S = 2.0
TOGETHER = 3


def row(tries: int) -> Row:
    """So many second servers, one after the other, while the first one serves; then one after the first was killed."""
    took, wrong = list[Took](), list[str]()
    with scratch() as folder, Server(folder) as first, Line(first.port) as line:
        run = start_run(line, "pump-changeout")
        for _ in range(tries):
            ended = _second(first)
            took.append(ended.took)
            said = ended.said
            wrong += unless(ended.code == 1, f"it ended with {ended.code}")
            wrong += unless(f"process {first.pid()}" in said and first.address in said, f"it does not say who: {said}")
            wrong += unless("Traceback" not in said, f"a traceback: {said[-300:]}")
            line.done(f"/api/runs/{run}/orders", {"do": "note", "reason": "The first one goes on serving."})
        first.kill()
        took_over_s = first.start()
    at_once = [_at_once() for _ in range(tries)]
    wrong += unless(set(at_once) == {1}, f"of {TOGETHER} started at once {at_once} served")
    slowest_s = max(each.own_s for each in took)
    wrong += unless(slowest_s < WITHIN_S, f"it took {slowest_s:.1f} s")
    return Row(
        PROMISE,
        "a second `leadline serve` on the folder of one that serves",
        {
            "tries": tries,
            "slowest until it stopped, s": slowest_s,
            "by the clock of this machine, s": max(each.wall_s for each in took),
            "started after the owner was killed, s": took_over_s,
            f"of {TOGETHER} started at once served": ", ".join(str(number) for number in at_once),
        },
        tuple(wrong[:5]),
    )


def _second(first: Server) -> NotStarted:
    """What became of a second one."""
    second = Server(first.folder, data=first.data, said=first.folder / "second.txt")
    try:
        return NotStarted("it served", 0, Took(second.start(), 0.0))
    except NotStarted as ended:
        return ended
    finally:
        second.kill()


def _at_once() -> int:
    """How many serve of several that are started at once on one folder."""
    with scratch() as folder:
        servers = [Server(folder, data=folder / "data", said=folder / f"{n}.txt") for n in range(TOGETHER)]
        starting = [threading.Thread(target=_begin, args=(each,)) for each in servers]
        for each in starting:
            each.start()
        for each in starting:
            each.join()
        served = sum(each.runs for each in servers)
        for server in servers:
            server.kill()
    return served


def _begin(server: Server) -> None:
    with suppress(NotStarted):
        server.start()
