"""Stopping: SIGTERM with fifty screens, slow readers, half requests and orders under way, in under two seconds.

That the shutdown code ran is told by what it leaves: no write-ahead log, and a lock file that names nobody.
"""

import random
import socket
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from app.store.owner import LOCK_NAME
from tests.harm.examined import examine
from tests.harm.load import CLIENTS, PROCEDURE, Heard, clients, procedure
from tests.harm.server import HOST, Server, database, scratch
from tests.harm.spent import Took
from tests.harm.streams import stream
from tests.harm.table import Row, unless
from tests.harm.wire import Line, start_run
from tests.pace import within

PROMISE = "stopping"
WITHIN_S = 2.0
SCREENS = 50
SLOW = 10
BIG_ANSWER = 1500
"""Notes of 2 KB, so that the log as JSON is larger than all that the kernel keeps for one who does not read."""
COMMAS = (b"," * 199 + b"\n") * 2500


@dataclass(slots=True)
class _Told:
    took: list[Took] = field(default_factory=list)
    codes: set[int | None] = field(default_factory=set)
    ended: int = 0
    acknowledged: int = 0
    wrong: list[str] = field(default_factory=list)


def row(tries: int, screens: int = SCREENS) -> Row:
    told = _Told()
    with scratch() as folder:
        server = Server(folder, {PROCEDURE: procedure()})
        server.start()
        try:
            with Line(server.port) as line:
                run = start_run(line, PROCEDURE)
                for _ in range(BIG_ANSWER):
                    line.done(f"/api/runs/{run}/orders", {"do": "note", "reason": "n" * 2000})
            for number in range(tries):
                _stopped(server, run, screens, told, number)
                server.start()
        finally:
            server.kill()
    return _row(tries, screens, told)


class _Reader(threading.Thread):
    """A screen: reads until its stream ends. `whole`: it ended as HTTP ends an answer, not by a cut."""

    def __init__(self, source: socket.socket) -> None:
        super().__init__(daemon=True)
        self._source = source
        self.whole = False
        self.heard = threading.Event()

    def run(self) -> None:
        last = b""
        try:
            with self._source:
                while data := self._source.recv(1 << 16):
                    self.heard.set()
                    last = (last + data)[-5:]
        except OSError:
            return
        self.whole = last == b"0\r\n\r\n"


def _stopped(server: Server, run: int, screens: int, told: _Told, seed: int) -> None:
    heard = [Heard() for _ in range(CLIENTS)]
    readers = [_Reader(stream(server.port, f"/api/runs/{run}/live")) for _ in range(screens)]
    for each in readers:
        each.start()
    for each in readers:
        each.heard.wait(10)
    held = [make(server.port, run) for make in _IN_THE_WAY for _ in range(SLOW)]
    pressing = clients(server.port, [run], seed, heard)
    time.sleep(random.Random(seed).uniform(0.3, 0.8))
    told.took.append(server.stop())
    threads: list[threading.Thread] = [*readers, *pressing]
    for one in threads:
        one.join()
    for other in held:
        other.close()
    assert server.process is not None
    told.codes.add(server.process.returncode)
    told.ended += sum(each.whole for each in readers)
    told.wrong += _left(server, heard, told)


def _left(server: Server, heard: list[Heard], told: _Told) -> list[str]:
    """What is wrong with what the stopped server left."""
    log = database(server.data).with_name(database(server.data).name + "-wal")
    acknowledged = {key for each in heard for key in each.acknowledged}
    told.acknowledged += len(acknowledged)
    wrong = unless(not log.exists() or log.stat().st_size == 0, "the write-ahead log was not emptied")
    wrong += unless((server.data / LOCK_NAME).read_bytes() == b"", "the lock file still names an owner")
    wrong += unless("Traceback" not in server.said(), f"a traceback: {server.said()[-400:]}")
    found = examine(server.data)
    wrong += unless(not acknowledged - found.places.keys(), "an acknowledged key is lost")
    # An order that comes while it stops is told so, and is sent again by whoever gave it.
    wrong += [each for some in heard for each in some.odd if " 503 " not in each]
    return wrong + list(found.faults)


def _silent(port: int, _: int) -> socket.socket:
    return socket.create_connection((HOST, port))


def _idle(port: int, _: int) -> socket.socket:
    """Kept open after an answer."""
    made = socket.create_connection((HOST, port))
    made.sendall(f"GET /api/runs HTTP/1.1\r\nHost: {HOST}\r\n\r\n".encode())
    made.recv(1 << 16)
    return made


def _half_head(port: int, _: int) -> socket.socket:
    made = socket.create_connection((HOST, port))
    made.sendall(f"POST /api/runs HTTP/1.1\r\nHost: {HOST}\r\nContent-Le".encode())
    return made


def _half_body(port: int, run: int) -> socket.socket:
    made = socket.create_connection((HOST, port))
    head = f"POST /api/runs/{run}/orders HTTP/1.1\r\nHost: {HOST}:{port}\r\nOrigin: http://{HOST}:{port}\r\n"
    made.sendall(f'{head}Content-Type: application/json\r\nContent-Length: 500\r\n\r\n{{"do":'.encode())
    return made


def _slow_screen(port: int, run: int) -> socket.socket:
    return stream(port, f"/api/runs/{run}/live", room=1024)


def _slow_answer(port: int, run: int) -> socket.socket:
    """Asked for the whole log, and does not read it."""
    return stream(port, f"/api/runs/{run}/events", room=1024)


def _file(port: int, _: int) -> socket.socket:
    """A procedure file that takes a second or two to be refused, behind others of its kind."""
    made = socket.create_connection((HOST, port))
    head = f"POST /api/procedures HTTP/1.1\r\nHost: {HOST}:{port}\r\nOrigin: http://{HOST}:{port}\r\n"
    made.sendall(f"{head}Content-Type: text/csv\r\nContent-Length: {len(COMMAS)}\r\n\r\n".encode() + COMMAS)
    return made


_IN_THE_WAY: tuple[Callable[[int, int], socket.socket], ...] = (
    _silent, _idle, _half_head, _half_body, _slow_screen, _slow_answer, _file
)  # fmt: skip


def _row(tries: int, screens: int, told: _Told) -> Row:
    slowest, ended = max(each.own_s for each in told.took), told.ended
    return Row(
        PROMISE,
        f"SIGTERM with {screens} screens, {SLOW} each of: silent, idle, half a head, half a body, slow screens, "
        f"a large answer unread, files being read; {CLIENTS} clients pressing",
        {
            "tries": tries,
            "slowest end, s": slowest,
            "by the clock of this machine, s": max(each.wall_s for each in told.took),
            "exit code": ", ".join(str(code) for code in sorted(told.codes, key=str)),
            "screens whose stream ended whole": f"{ended} of {tries * screens}",
            "acknowledged meanwhile": told.acknowledged,
        },
        tuple(
            unless(within(slowest, WITHIN_S), f"it took {slowest:.1f} s")
            + unless(told.codes <= {0, -15}, f"it ended with {told.codes}")
            + unless(ended == tries * screens, f"{tries * screens - ended} screens were cut off")
            + told.wrong[:5]
        ),
    )
