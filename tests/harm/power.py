"""An acknowledged mark survives a power cut: between the write of each and its answer lies a sync, by strace.

A killed process proves nothing here, since what it wrote is with the kernel. From the same trace the disk is made up as
a cut at many moments would leave it (`platter`), and what was acknowledged by then is looked for. The control is the
server with `synchronous=NORMAL`, which must fail both.
"""

import os
import random
import re
import shutil
import signal
import threading
import uuid
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.harm import traced
from tests.harm.examined import examine
from tests.harm.load import CLIENTS, PROCEDURE, first_run, procedure
from tests.harm.platter import Platter
from tests.harm.server import SERVE, Server, scratch
from tests.harm.table import Row, unless
from tests.harm.traced import Call
from tests.harm.wire import Line

PROMISE = "... and a power cut"
NORMAL = ("tests.harm.program", "normal", "serve")
_TOKEN = re.compile(rb"word\d{6}end")


@dataclass(frozen=True, slots=True)
class Counted:
    """Of one trace: acknowledgements, those with no sync between write and answer, and the syncs of the log."""

    acknowledged: int
    unsynced: int
    syncs: int


@dataclass(frozen=True, slots=True)
class Trace:
    """What a server did while notes were sent. `before` is its data folder as it was, `data` where it lay."""

    calls: Sequence[Call]
    tokens: Sequence[bytes]
    before: Path
    data: Path


def row(each: int) -> Row:
    """So many acknowledgements one at a time, as many in groups, an eighth as many cuts of each, and the controls."""
    if why := traced.cannot_trace():
        return Row(PROMISE, missing=why)
    cuts, counted, lost, faults = max(5, each // 8), list[Counted](), list[int](), list[str]()
    for clients, program in ((1, SERVE), (CLIENTS, SERVE), (1, NORMAL)):
        with traced_server(each, clients, program) as trace:
            counted.append(count(trace.calls, trace.tokens))
            missing, found = cut(trace, cuts)
            lost.append(missing)
            faults += found
    return _row(counted, lost, cuts, faults)


def _row(counted: Sequence[Counted], lost: Sequence[int], cuts: int, faults: Sequence[str]) -> Row:
    """`counted` and `lost`: one at a time, in groups, and the control."""
    alone, together, control = counted
    return Row(
        PROMISE,
        "strace: of each acknowledgement, a sync of the log returns after its write and before its answer's first "
        "byte; and the disk as a cut of the power would leave it, made up from the trace",
        {
            "one at a time": alone.acknowledged,
            "without a sync": alone.unsynced + together.unsynced,
            "syncs for one": alone.syncs / alone.acknowledged,
            f"by {CLIENTS} clients at once": together.acknowledged,
            "syncs for one of these": together.syncs / together.acknowledged,
            "power cuts": 2 * cuts,
            "with something acknowledged lost": lost[0] + lost[1],
            "control with synchronous=NORMAL": f"{control.unsynced} of {control.acknowledged} without a sync, "
            f"{lost[2]} of {cuts} cuts with something lost",
        },
        tuple(
            unless(alone.unsynced + together.unsynced == 0, "an order was acknowledged before it was synced")
            + unless(together.syncs < together.acknowledged, "orders that arrive together do not share a sync")
            + unless(lost[0] + lost[1] == 0, "a cut of the power lost what was acknowledged")
            + unless(control.unsynced > control.acknowledged // 2, "the control passed: this count finds nothing")
            + unless(lost[2] > 0, "the control passed: the cuts find nothing")
            + list(faults[:5])
        ),
    )


@contextmanager
def traced_server(each: int, clients: int, program: Sequence[str] = SERVE) -> Iterator[Trace]:
    """Send so many notes to a traced server, over a folder that was made and closed before."""
    tokens = [[b"word%06dend" % (number * each + one) for one in range(each // clients)] for number in range(clients)]
    with scratch() as folder:
        texts = {PROCEDURE: procedure()}
        run = first_run(folder / "data")
        before = shutil.copytree(folder / "data", folder / "before")
        with Server(folder, texts, program, traced.around(folder / "trace")) as server:
            _send(server.port, run, tokens)
            _end(server)
        yield Trace(traced.calls(folder / "trace"), [one for some in tokens for one in some], before, folder / "data")


def cut(trace: Trace, cuts: int, seed: int = 20310504) -> tuple[int, list[str]]:
    """Cut the power so many times. Returns how often something acknowledged was lost, and what else was wrong."""
    pick, answered, lost, faults = random.Random(seed), _answered(trace.calls), 0, list[str]()
    moments = sorted(pick.choices(sorted(answered.values()), k=cuts))
    platter, place = Platter(trace.data, trace.before), 0
    for moment in moments:
        while place < len(trace.calls) and trace.calls[place].ended < moment:
            platter.take(trace.calls[place])
            place += 1
        with scratch() as folder:
            left = shutil.copytree(trace.before, folder / "left")
            platter.cut(left, pick)
            found = examine(left)
        told = {_key(token) for token, at in answered.items() if at <= moment}
        lost += bool(told - found.places.keys())
        faults += [f"after a cut of the power: {each}" for each in found.faults]
    return lost, faults


def _key(token: bytes) -> str:
    return str(uuid.uuid5(uuid.NAMESPACE_OID, token.decode()))


def _send(port: int, run: int, tokens: list[list[bytes]]) -> None:
    def press(some: list[bytes]) -> None:
        with Line(port, timeout_s=60) as line:
            for token in some:
                said = {"do": "note", "reason": token.decode(), "key": _key(token)}
                line.done(f"/api/runs/{run}/orders", said)

    pressing = [threading.Thread(target=press, args=(some,)) for some in tokens]
    for one in pressing:
        one.start()
    for one in pressing:
        one.join()


def _end(server: Server) -> None:
    """Stop the server, not the tracer, which then ends by itself with its file whole."""
    assert server.process is not None
    os.kill(server.pid(), signal.SIGTERM)
    server.process.wait(30)


def count(found: Sequence[Call], tokens: Sequence[bytes]) -> Counted:
    """For each token: its first write into the log, its answer's first byte, and whether a whole sync lies between.

    Raises:
        KeyError: a token was never written, or never answered.
    """
    written, answered = _written(found), _answered(found)
    syncs = [call for call in found if call.is_sync and call.file.endswith("-wal")]
    begins = [call.began for call in syncs]
    unsynced = 0
    for token in tokens:
        place = bisect_left(begins, written[token].ended)
        unsynced += place == len(syncs) or syncs[place].ended > answered[token]
    since, until = min(written[token].began for token in tokens), max(answered[token] for token in tokens)
    return Counted(len(tokens), unsynced, sum(since < call.began < until for call in syncs))


def _written(found: Sequence[Call]) -> dict[bytes, Call]:
    """The first write of each token into the write-ahead log. Later ones are of pages that still hold it."""
    first: dict[bytes, Call] = {}
    for call in found:
        if call.is_write and call.file.endswith("-wal"):
            for token in _TOKEN.findall(call.data):
                first.setdefault(token, call)
    return first


def _answered(found: Sequence[Call]) -> dict[bytes, int]:
    """The line on which the first byte of each token's answer goes out: head and body may be two writes."""
    first: dict[bytes, int] = {}
    heads: dict[str, int] = {}
    for call in found:
        if call.is_answer:
            if b"HTTP/1.1 " in call.data:
                heads[call.file] = call.began
            for token in _TOKEN.findall(call.data):
                first.setdefault(token, heads.get(call.file, call.began))
    return first
