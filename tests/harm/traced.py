"""What a server wrote, synced and answered, in the order in which the kernel was asked: read from strace.

A line of the trace is written when the tracer has seen the call, and the traced thread waits until then. So where one
call happened because of another, their lines stand in that order, in whatever threads they were.
"""

import re
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path

CALLS = "fsync,fdatasync,pwrite64,pwritev,write,writev,sendto,sendmsg,ftruncate,openat,unlink"
LONGEST = 8192
"""Bytes of each string that are kept: a page of the database has 4,096, an answer to an order under 1,000."""
_LINE = re.compile(r"^(\d+) +(?:<\.\.\. )?(\w+)(?: resumed>|\()(.*)$", re.DOTALL)
_FILE = re.compile(r"\d+<([^>]*)>")
_STRING = re.compile(r'"((?:[^"\\]|\\.)*)"')
_NUMBERS = re.compile(r", (\d+)(?:, (\d+))? *\) += ")


@cache
def cannot_trace() -> str:
    """Why nothing can be traced here; empty if it can."""
    tool = shutil.which("strace")
    if tool is None:
        return "There is no strace on this machine (Debian's package strace)."
    tried = subprocess.run([tool, "-f", "-o", "/dev/null", "true"], capture_output=True, text=True, check=False)
    return "" if tried.returncode == 0 else f"strace may not trace here: {tried.stderr.strip()[:200]}"


def around(trace: Path) -> list[str]:
    """The words before a command that is to be traced."""
    return ["strace", "-f", "-y", "-x", "-s", str(LONGEST), "-e", f"trace={CALLS}", "-o", str(trace)]


@dataclass(frozen=True)
class Call:
    """One system call that succeeded. `began` and `ended` are numbers of lines; `rest` is all after its name."""

    name: str
    rest: str
    began: int
    ended: int

    @cached_property
    def file(self) -> str:
        """The path of its first descriptor; a socket's is `socket:[...]`. Of `openat`, that of the new one."""
        found = _FILE.findall(self.rest)
        return str(found[-1] if self.name == "openat" else found[0]) if found else ""

    @cached_property
    def data(self) -> bytes:
        """What was written, or the name that was unlinked."""
        return b"".join(_bytes(each) for each in _STRING.findall(self.rest))

    @property
    def numbers(self) -> tuple[int, int]:
        """The last two numbers that were passed: of pwrite64 count and offset, of ftruncate the length, twice."""
        found = _NUMBERS.search(self.rest)
        assert found is not None, self.rest[-80:]
        return int(found[1]), int(found[2] or found[1])

    @property
    def is_sync(self) -> bool:
        return self.name in ("fsync", "fdatasync")

    @property
    def is_write(self) -> bool:
        return self.name == "pwrite64"

    @property
    def is_answer(self) -> bool:
        return self.file.startswith(("socket:", "TCP:", "TCPv6:")) and not self.is_sync


def _bytes(shown: str) -> bytes:
    """strace -x shows a string with any sign that is not printable ASCII wholly in hexadecimal."""
    if shown.startswith("\\x"):
        return bytes.fromhex(shown.replace("\\x", ""))
    return shown.encode("ascii").decode("unicode_escape").encode("latin-1")


def calls(trace: Path) -> list[Call]:
    """Every call of the trace that succeeded, in the order in which they began."""
    return sorted(_read(trace), key=lambda call: call.began)


def _read(trace: Path) -> Iterator[Call]:
    waiting: dict[str, tuple[int, str]] = {}
    for number, line in enumerate(trace.read_text(encoding="utf-8", errors="replace").splitlines()):
        read = _LINE.match(line)
        if read is None:
            continue
        thread, name, rest = read.groups()
        began, before = waiting.pop(thread, (number, "")) if " resumed>" in line[:60] else (number, "")
        if rest.endswith("<unfinished ...>"):
            waiting[thread] = (number, rest.removesuffix("<unfinished ...>"))
        elif " = -1 " not in rest[-80:]:
            yield Call(name, before + rest, began, number)
