"""Installs an archive and serves from it, where it is run: in a network of its own, by a Python that has nothing else.

A program with the standard library alone: cut_off.py INSTALL_SH FOLDER PORT. It prints what it found, as JSON.
"""

import fcntl
import json
import os
import signal
import socket
import struct
import subprocess
import sys
import urllib.request
from pathlib import Path
from typing import Any

GET_FLAGS, SET_FLAGS, UP = 0x8913, 0x8914, 1
"""SIOCGIFFLAGS, SIOCSIFFLAGS and IFF_UP of netdevice(7)."""
ELSEWHERE = ("192.0.2.1", 443)
"""An address of nobody (RFC 5737)."""


def loopback_up() -> None:
    """A new network has a loopback that is down; where it is up already, nothing is asked that may be forbidden."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        asked = struct.pack("16sh", b"lo", 0)
        (flags,) = struct.unpack("16xh", fcntl.ioctl(asking, GET_FLAGS, asked))
        if not flags & UP:
            fcntl.ioctl(asking, SET_FLAGS, struct.pack("16sh", b"lo", flags | UP))


def cut_off() -> str:
    """Why no other machine can be reached; empty if one might be."""
    try:
        socket.create_connection(ELSEWHERE, 2).close()
    except OSError as error:
        return error.strerror or type(error).__name__
    return ""


def asked(address: str, path: str, sent: dict[str, str] | None = None) -> str:
    data = None if sent is None else json.dumps(sent).encode()
    headers = {"Origin": address, "Content-Type": "application/json"}
    with urllib.request.urlopen(urllib.request.Request(address + path, data, headers), timeout=60) as answer:
        return str(answer.read().decode())


def served(command: Path, data: Path, port: str) -> dict[str, Any]:
    """A page, and a run that was started and noted in."""
    words = [str(command), "serve", "--data", str(data), "--port", port]
    address = f"http://127.0.0.1:{port}"
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as server:
        try:
            assert server.stdout is not None
            said = next(line for line in server.stdout if "http://" in line)
            home = asked(address, "/")
            sent = {"procedure": "pump-changeout", "kind": "rehearsal", "key": f"{1:032x}"}
            run = json.loads(asked(address, "/api/runs", sent))["run"]
            note = {"do": "note", "reason": "all at hand", "key": f"{2:032x}"}
            seq = json.loads(asked(address, f"/api/runs/{run}/orders", note))["seq"]
        finally:
            server.send_signal(signal.SIGTERM)
    return {"said": said, "home": home, "seq": seq}


def told(*words: str | Path) -> str:
    """What a command printed. Raises RuntimeError with its words if it failed."""
    done = subprocess.run([str(word) for word in words], capture_output=True, text=True, check=False)
    if done.returncode:
        raise RuntimeError(f"{words}: {done.stdout}{done.stderr}")
    return done.stdout


def main(script: str, folder: str, port: str) -> None:
    loopback_up()
    found: dict[str, Any] = {"cut_off": cut_off(), "installed": told("sh", script, folder)}
    command, data = Path(folder) / "bin" / "leadline", Path(folder).parent / "data"
    found["compiled"] = len(list(Path(folder).rglob("*.pyc")))
    found["version"] = told(command, "--version")
    found["deploy"] = told(command, "deploy", "systemd")
    found |= served(command, data, port)
    found["verify"] = told(command, "verify", "--data", data)
    found["psycopg"] = told(Path(folder) / "bin" / "python", "-c", "import psycopg; print(psycopg.pq.__impl__)")
    print(json.dumps(found))


if __name__ == "__main__":
    os.environ["PYTHONUNBUFFERED"] = "1"
    main(*sys.argv[1:])
