"""The disk is full: orders are refused in words, screens are still shown, and there is no need to start again.

The disk is a real one of two megabytes (`small_disk`); data, write-ahead log and the server's own output lie on it.
"""

import uuid
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlencode

from app.store.engine import FILE_NAME
from tests.harm.examined import examine
from tests.harm.load import PROCEDURE, procedure
from tests.harm.server import NotStarted, Server, scratch
from tests.harm.small_disk import NoSmallDisk, SmallDisk
from tests.harm.streams import ticks
from tests.harm.table import Row, unless
from tests.harm.wire import COOKIE, FORM, Answer, Line, start_run, token

PROMISE = "disk full"
WORDS = "Make room"
SCREENS = ("desk", "lead", "log", "list/P0")
BALLAST_KB = 600
DISK_KB = 2048
"""The two orders of each round, some 60 KB of log that is not shortened meanwhile, are taken in the room that the
ballast leaves: five rounds must leave some of it."""
MOST_NOTES = 1000
TEXT = "n" * 1500
"""A note of several pages of the log. Where it finds no room, a mark of one page may still find some: the refused
transaction has made the log longer by a few pages, which the next one may use."""
MOST_PRESSES = 4


@dataclass(slots=True)
class _Told:
    acknowledged: set[str] = field(default_factory=set)
    refused: int = 0
    refused_page: int = 0
    screens: int = 0
    ticks: int = 0
    log_kb: int = 0
    taken_again: int = 0
    wrong: list[str] = field(default_factory=list)


def row(rounds: int) -> Row:
    """Fill the disk so many times, make room each time, and at last start on the full disk."""
    told = _Told()
    with scratch() as folder:
        at = folder / "disk"
        at.mkdir()
        try:
            disk = SmallDisk(at, DISK_KB)
        except NoSmallDisk as none:
            return Row(PROMISE, missing=f"{none} See tests/service/test_full_disk.py: there the file may not grow.")
        with disk:
            starts = _on(disk, folder, rounds, told)
    return _row(rounds, told, starts)


def _on(disk: SmallDisk, folder: Path, rounds: int, told: _Told) -> str:
    server = Server(
        folder, {PROCEDURE: procedure()}, around=disk.around, data=disk.inside / "data", said=disk.outside / "said.txt"
    )
    try:
        server.start()
        with Line(server.port, timeout_s=60) as line:
            run = start_run(line, PROCEDURE)
            for number in range(rounds):
                _fill(disk, line, run, told)
                told.log_kb = max(told.log_kb, (disk.outside / "data" / f"{FILE_NAME}-wal").stat().st_size // 1024)
                _look(server.port, line, run, told)
                disk.make_room()
                _press_again(line, run, f"t{number}/1", told)
        starts = _start_when_full(server, disk, told)
        found = examine(disk.outside / "data")
        told.wrong += found.faults
        told.wrong += unless(not told.acknowledged - found.places.keys(), "an acknowledged key is lost")
    finally:
        server.kill()
    return starts


def _note(line: Line, run: int, key: str) -> Answer:
    return line.post(f"/api/runs/{run}/orders", {"do": "note", "reason": TEXT, "key": key})


def _fill(disk: SmallDisk, line: Line, run: int, told: _Told) -> None:
    """Notes until one is refused, on what the ballast leaves of the disk."""
    disk.fill(but_kb=max(0, disk.free_kb() - BALLAST_KB))
    for _ in range(MOST_NOTES):
        key = str(uuid.uuid4())
        answer = _note(line, run, key)
        if answer.status != 200:
            told.refused += 1
            told.wrong += unless(answer.status == 507 and WORDS in answer.text, f"{answer.status} {answer.text[:200]}")
            told.wrong += unless(answer.kind == "application/problem+json", f"a refusal as {answer.kind}")
            disk.fill()
            return
        told.acknowledged.add(key)
    told.wrong.append("the disk was never full")


def _look(port: int, line: Line, run: int, told: _Told) -> None:
    """While it is full: a press on a page is refused in words, every screen is shown, and the clock goes on."""
    _press_until_refused(line, run, told)
    for screen in SCREENS:
        answer = line.get(f"/runs/{run}/{screen}")
        told.screens += answer.status == 200
        told.wrong += unless(answer.status == 200, f"{screen} was answered with {answer.status} on a full disk")
    heard = ticks(port, run, within_s=2.5)
    told.ticks += heard
    told.wrong += unless(heard >= 2, f"{heard} ticks in 2.5 s on a full disk")


def _press_until_refused(line: Line, run: int, told: _Told) -> None:
    """A press that is taken used what the refused transaction had added to the log, and counts as acknowledged.

    Not every note needs as many pages: one that splits a page of an index needs more. What there is to use is less
    than one transaction, so that few can find room.
    """
    for _ in range(MOST_PRESSES):
        key = str(uuid.uuid4())
        fields = {"do": "note", "reason": TEXT, "page": "desk", "key": key, "token": token(line)}
        line.send("POST", f"/runs/{run}/orders", urlencode(fields).encode(), Content_Type=FORM, Cookie=COOKIE)
        page = line.read()
        if page.status == 507 and WORDS in page.text:
            told.refused_page += 1
            return
        if page.status != 303:
            told.wrong.append(f"the page answered a press with {page.status}")
            return
        told.acknowledged.add(key)
    told.wrong.append(f"the page took {MOST_PRESSES} presses on a full disk")


def _press_again(line: Line, run: int, step: str, told: _Told) -> None:
    """There is room: the same server takes orders."""
    for path, said in (("orders", {"do": "note", "reason": TEXT}), ("marks", {"step": step})):
        key = str(uuid.uuid4())
        answer = line.post(f"/api/runs/{run}/{path}", said | {"key": key})
        if answer.status == 200:
            told.taken_again += 1
            told.acknowledged.add(key)
        else:
            told.wrong.append(f"with room again: {answer.status} {answer.text[:200]}")


def _start_when_full(server: Server, disk: SmallDisk, told: _Told) -> str:
    """Killed, and stopped, on a full disk, then started there. Returns what became of it, in words."""
    server.said_file = server.folder / "said.txt"  # Emptied at each start, it would make room on the disk.
    disk.fill()
    server.kill()
    after_kill = _start(server, told)
    if server.runs:
        server.stop()
    disk.fill()
    after_stop = _start(server, told)
    server.kill()
    disk.make_room()
    server.start()
    return f"after a kill {after_kill}, after a stop {after_stop}"


def _start(server: Server, told: _Told) -> str:
    try:
        server.start()
    except NotStarted as ended:
        told.wrong += unless("Traceback" not in ended.said, f"a traceback on a full disk: {ended.said[-300:]}")
        return f"refused: {ended.said.strip().replace(str(server.data), 'it')}"
    return "it starts"


def _row(rounds: int, told: _Told, starts: str) -> Row:
    return Row(
        PROMISE,
        "a tmpfs of 2 MB with the data and the server's own output on it, filled and emptied",
        {
            "times full": rounds,
            "refused with 507 in words by the API": told.refused,
            "and on the page": told.refused_page,
            "screens shown": told.screens,
            "ticks heard": told.ticks,
            "taken without a restart": told.taken_again,
            "acknowledged": len(told.acknowledged),
            "KB of it were the write-ahead log": told.log_kb,
            "started on the full disk": starts,
        },
        tuple(told.wrong[:8]),
    )
