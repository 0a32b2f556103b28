"""Hostile input: a real server is sent what would hurt it. No 500, no more than two seconds each, little memory."""

import socket
import threading
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import islice
from urllib.parse import quote

from tests.harm import hostile_inputs
from tests.harm.load import PROCEDURE, procedure
from tests.harm.server import HOST, Server, scratch
from tests.harm.spent import in_line, since, timed
from tests.harm.table import Row, unless
from tests.harm.wire import Line, start_run, token
from tests.pace import within

PROMISE = "hostile input"
WITHIN_S = 2.0
MOST_MB = 256
HALF_REQUESTS = 300
AT_ONCE = 4
THIN = 5


@dataclass(slots=True)
class _Told:
    statuses: Counter[int] = field(default_factory=Counter)
    slowest: tuple[float, str] = (0.0, "")
    wrong: list[str] = field(default_factory=list)


def filled(inputs: Iterable[tuple[str, bytes]], line: Line, port: int) -> list[tuple[str, bytes]]:
    """The requests with the host and the token that this server wants."""
    host, said = f"{HOST}:{port}".encode(), token(line).encode()
    return [(name, data.replace(b"{host}", host).replace(b"{token}", said)) for name, data in inputs]


def sent(server: Server, data: bytes, within_s: float = 20) -> tuple[int, float]:
    """The status that a request is answered with, and the seconds that it took of the server.

    0 where the connection is closed without an answer; -1 where nothing came within the time.
    """
    assert server.process is not None
    began, before = time.monotonic(), in_line(server.process.pid)
    with socket.create_connection((HOST, server.port)) as line:
        line.settimeout(within_s)
        with suppress(OSError):  # Refused before it was all sent; the answer may be there all the same.
            line.sendall(data)
        try:
            head = line.recv(16)
        except TimeoutError:
            return -1, within_s
        except OSError:
            head = b""
    said = head[9:12]
    return int(said) if said.isdigit() else 0, since(began, before, server.process.pid).own_s


def row(rounds: int = 1) -> Row:
    """Every input so many times, one after the other; then the files several at once; then many half requests.

    One round alone is the short form: of the files, which the tests of the readers try all, one in `THIN`.
    """
    told, thin = _Told(), THIN if rounds == 1 else 1
    with scratch() as folder, Server(folder, {PROCEDURE: procedure()}) as server:
        with Line(server.port) as line:
            run = start_run(line, PROCEDURE)
            files = filled(islice(hostile_inputs.files(), 0, None, thin), line, server.port)
            others = (*hostile_inputs.bodies(run), *hostile_inputs.requests(run), *_texts(run))
            inputs = [*files, *filled(others, line, server.port)]
        for _ in range(rounds):
            _send(server, inputs, told)
        alone_mb = server.memory_mb()
        at_once_mb = 0.0
        if rounds > 1:
            _at_once(server, files)
            at_once_mb = server.memory_mb()
        half = _half_requests(server)
        told.wrong += unless(
            within(half, WITHIN_S), f"with {HALF_REQUESTS} half requests open, a page took {half:.1f} s"
        )
        told.wrong += _still_well(server, run)
        return _row(len(inputs) * rounds, told, alone_mb, at_once_mb, half)


def _texts(run: int) -> Iterable[tuple[str, bytes]]:
    """Texts as addresses, names and notes."""
    from tests.web.test_hostile_text import HOSTILE

    for number, text in enumerate(HOSTILE):
        address = quote(text[:500], safe="", errors="replace")
        yield f"text {number} as an address", hostile_inputs.get(f"/procedures/{address}")
        yield f"text {number} as a moment", hostile_inputs.get(f"/runs/{run}/desk?at={address}")
        form = f"name={address}".encode()
        yield f"text {number} as a name", hostile_inputs.post("/name", form, "application/x-www-form-urlencoded")


def _send(server: Server, inputs: Sequence[tuple[str, bytes]], told: _Told) -> None:
    for name, data in inputs:
        status, seconds = sent(server, data)
        told.statuses[status] += 1
        told.slowest = max(told.slowest, (seconds, name))
        told.wrong += unless(status < 500, f"{name}: answered with {status}")
        told.wrong += unless(status >= 0, f"{name}: no answer")
        told.wrong += unless(within(seconds, WITHIN_S), f"{name}: took {seconds:.1f} s")


def _at_once(server: Server, inputs: Sequence[tuple[str, bytes]]) -> None:
    """The same from several stations at once, for what it does to the memory."""
    each = [threading.Thread(target=_send, args=(server, inputs[start::AT_ONCE], _Told())) for start in range(AT_ONCE)]
    for one in each:
        one.start()
    for one in each:
        one.join()


def _half_requests(server: Server) -> float:
    """How long a page takes while many clients have sent half a request and wait."""
    held = [socket.create_connection((HOST, server.port)) for _ in range(HALF_REQUESTS)]
    for number, each in enumerate(held):
        each.sendall(b"POST /api/runs HTTP/1.1\r\nHost: x\r\nContent-Length: 9\r\n\r\n{" if number % 2 else b"GET / HT")
    assert server.process is not None
    with Line(server.port) as line:
        took = timed(server.process.pid, lambda: line.get("/"))
    for each in held:
        each.close()
    return took.own_s


def _still_well(server: Server, run: int) -> list[str]:
    """It goes on, nothing of all that is in the run, and nothing failed inside."""
    with Line(server.port) as line:
        kinds = [each["kind"] for each in line.done(f"/api/runs/{run}/events")]
        shown = line.get(f"/runs/{run}/desk").status
    wrong = unless(shown == 200, f"afterwards the desk is answered with {shown}")
    wrong += unless(kinds == ["RunStarted"], f"the run now holds {kinds[:5]}")
    return wrong + unless("Traceback" not in server.said(), f"a traceback: {server.said()[-600:]}")


def _row(count: int, told: _Told, alone_mb: float, at_once_mb: float, half_s: float) -> Row:
    return Row(
        PROMISE,
        "procedure files, JSON and form bodies, addresses, headers and noise, raw to a real server",
        {
            "inputs": count,
            "answered with 2xx or 3xx": sum(n for status, n in told.statuses.items() if 200 <= status < 400),
            "4xx": sum(n for status, n in told.statuses.items() if 400 <= status < 500),
            "closed": told.statuses[0],
            "500s": sum(n for status, n in told.statuses.items() if status >= 500),
            "slowest": f"{told.slowest[0]:.2f} s ({told.slowest[1]})",
            "memory of the server, MB": round(alone_mb),
            **({f"with {AT_ONCE} files at once, MB": round(at_once_mb)} if at_once_mb else {}),
            f"a page beside {HALF_REQUESTS} half requests, s": half_s,
        },
        tuple(unless(alone_mb < MOST_MB, f"the server took {alone_mb:.0f} MB") + told.wrong[:8]),
    )
