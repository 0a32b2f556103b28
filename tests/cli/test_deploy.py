"""What a keeper sets Leadline up with: the files for systemd and nginx, readiness, and what the hardening leaves it."""

import ctypes
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
from functools import cache
from pathlib import Path

import httpx
import pytest

from app.bounds import WITHIN_S as REQUEST_WITHIN_S
from app.cli_deploy import FILES, INSTALLED_AT, Kind
from app.notifying import Notice
from app.serving import ENOUGH_FILES
from app.web.addresses import STREAMS
from app.web.keys import new_key
from app.web.library import LARGEST_SENT
from app.web.live import BEAT_S
from tests.harm.traced import cannot_trace
from tests.ports import free_port
from tests.proxied import configuration
from tests.served import LEADLINE, called, environment, served

PASSWORD = "four grey herons"
UNIT = (FILES / "leadline.service").read_text()
WORST = 2.0
"""systemd-analyze calls up to 2.0 of 10 "OK"."""
SET_MDWE, REFUSE_EXEC_GAIN = 65, 1
"""prctl(2) and linux/prctl.h: PR_SET_MDWE, PR_MDWE_REFUSE_EXEC_GAIN, of Linux 6.3."""


@pytest.mark.parametrize("kind", list(Kind))
def test_a_file_is_printed_with_the_place_of_this_installation(kind: Kind, tmp_path: Path) -> None:
    said = called("deploy", kind, folder=tmp_path)
    assert said.returncode == 0
    assert f"{INSTALLED_AT}/" not in said.stdout
    if kind is Kind.SYSTEMD:
        assert f'\nExecStart="{sys.prefix}/bin/leadline" serve $LEADLINE_OPTIONS\n' in said.stdout
        assert said.stdout.replace(f"{sys.prefix}/", f"{INSTALLED_AT}/") == UNIT


def test_the_version_is_printed_alone(tmp_path: Path) -> None:
    said = called("--version", folder=tmp_path)
    assert re.fullmatch(r"leadline \d+\.\d+\.\d+\n", said.stdout)


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (["--behind", "127.0.0.1"], "by way of the proxy could mark steps"),
        (["--behind", "127.0.0.1", "--host", "0.0.0.0"], "Or leave out --behind and use --host 127.0.0.1"),
        (["--behind", "nginx"], "'nginx' is not an address"),
        (["--behind", "*"], "'*' is not an address"),
        (["--behind", "10.0.0.0/8"], "'10.0.0.0/8' is not an address"),
    ],
)
def test_a_proxy_needs_accounts_and_an_address(tmp_path: Path, words: list[str], why: str) -> None:
    said = called("serve", "--port", free_port(), *words, folder=tmp_path)
    assert said.returncode == 1
    assert why in said.stderr
    assert "Traceback" not in said.stderr
    assert not list(tmp_path.iterdir())


def test_proxies_may_be_named_in_the_environment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LEADLINE_BEHIND", "127.0.0.1 proxy-2")
    assert "--behind 'proxy-2' is not an address" in called("serve", "--port", free_port(), folder=tmp_path).stderr


def test_it_is_told_that_the_server_is_ready_once_it_answers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    at = tmp_path / "notify"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as hearing:
        hearing.bind(str(at))
        hearing.settimeout(20)
        monkeypatch.setenv("NOTIFY_SOCKET", str(at))
        with served(["serve", "--port", str(free_port())], tmp_path) as server:
            told = hearing.recv(1_000).decode()
            address = server.address.removesuffix("/")
            assert told == f"READY=1\nSTATUS=Leadline is at {address}"
            assert httpx.get(server.address).status_code == 200


def test_an_abstract_socket_is_heard_and_one_that_is_gone_stops_nothing() -> None:
    name = f"leadline-test-{free_port()}"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as hearing:
        hearing.bind(f"\0{name}")
        hearing.settimeout(5)
        environ = {"NOTIFY_SOCKET": f"@{name}"}
        notice = Notice(environ)
        assert environ == {}, "a child must not speak in the server's name"
        notice.ready("here")
        assert hearing.recv(1_000) == b"READY=1\nSTATUS=here"
    notice.ready("nobody hears this")
    Notice({}).ready("nor this")


def analyzed(tmp_path: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """What systemd-analyze says of the unit, with this environment's own command in it."""
    unit = tmp_path / "leadline.service"
    unit.write_text(UNIT.replace(f"{INSTALLED_AT}/bin/leadline", shutil.which("true") or "/bin/true"))
    return subprocess.run(["systemd-analyze", *words, str(unit)], capture_output=True, text=True, check=False)


needs_systemd = pytest.mark.skipif(
    shutil.which("systemd-analyze") is None, reason="There is no systemd-analyze on this machine (Debian's systemd)."
)


@needs_systemd
def test_systemd_finds_no_fault_in_the_unit(tmp_path: Path) -> None:
    found = analyzed(tmp_path, "verify", "--man=no", "--recursive-errors=no")
    assert (found.returncode, found.stderr) == (0, "")


@needs_systemd
def test_systemd_calls_the_hardening_ok(tmp_path: Path) -> None:
    found = analyzed(tmp_path, "security", "--offline=yes", "--no-pager")
    level = re.search(r"Overall exposure level for leadline\.service: ([\d.]+)", found.stdout)
    assert level, found.stdout + found.stderr
    assert float(level[1]) <= WORST


def test_the_unit_and_the_server_name_one_number_of_connections() -> None:
    assert f"\nLimitNOFILE={ENOUGH_FILES}\n" in UNIT


def test_nginx_lets_through_what_leadline_reads_and_waits_as_long() -> None:
    text = configuration({})
    largest = re.search(r"client_max_body_size (\d+)m;", text)
    assert largest
    assert LARGEST_SENT <= int(largest[1]) * 2**20 < LARGEST_SENT + 2**20
    assert f"client_body_timeout {REQUEST_WITHIN_S:.0f}s;" in text
    (streams,) = re.findall(r"location ~ (\S+) \{[^}]*proxy_read_timeout (\d+)s;", text)
    assert int(streams[1]) > 2 * BEAT_S
    for path in (
        "/api/live",
        "/api/runs/7/live",
        "/api/runs/7/lively",
        "/api/lives",
        "/x/api/live",
        "/api/runs/7/8/live",
    ):
        assert bool(re.search(streams[0], path)) == bool(STREAMS.fullmatch(path)), path
    assert not re.search(r"^\s*proxy_next_upstream .*non_idempotent", text, re.M)


@cache
def allowed_calls() -> frozenset[str]:
    """The names in @system-service, as this machine's systemd has it, and what every filter lets through."""
    said = subprocess.run(["systemd-analyze", "syscall-filter"], capture_output=True, text=True, check=True).stdout
    groups: dict[str, list[str]] = {}
    for line in said.splitlines():
        if line.startswith("@"):
            groups[line.strip()] = last = []
        elif line.startswith(" ") and not line.strip().startswith("#"):
            last.append(line.strip())
    found: set[str] = set()
    waiting = ["@system-service"]
    while waiting:
        for name in groups[waiting.pop()]:
            (waiting.append if name.startswith("@") else found.add)(name)
    return frozenset(found)


def hardened() -> None:
    """In a child, before it becomes the server: no memory may become runnable, where the kernel knows PR_SET_MDWE."""
    ctypes.CDLL(None).prctl(SET_MDWE, REFUSE_EXEC_GAIN, 0, 0, 0)


def at_work(port: int) -> None:
    """A run, a look ahead by numpy in a process of its own, a password by argon2id, a stream; then a stop."""
    sent = {"procedure": "pump-changeout", "kind": "rehearsal", "key": new_key()}
    with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=60) as client:
        client.headers["Origin"] = f"http://127.0.0.1:{port}"
        who = client.post("/api/sessions", json={"name": "Kofi", "password": PASSWORD}).json()
        client.headers["Authorization"] = f"Bearer {who['token']}"
        run = client.post("/api/runs", json=sent).json()["run"]
        assert client.get(f"/api/runs/{run}/outlook").json()["forecast"]["draws"] == 10_000
        assert client.post(f"/api/runs/{run}/orders", json={"do": "note", "reason": "x", "key": new_key()}).is_success
        with client.stream("GET", f"/api/runs/{run}/live") as answer:
            assert next(answer.iter_lines())


@needs_systemd
@pytest.mark.skipif(bool(cannot_trace()), reason=cannot_trace() or "it can")
def test_a_server_at_work_asks_the_kernel_for_nothing_that_the_unit_forbids(tmp_path: Path) -> None:
    """The calls, and the kinds of sockets and of memory, against the unit's own lines; no systemd is needed to run."""
    added = [*LEADLINE, "person", "add", "Kofi", "--may", "keep"]
    subprocess.run(added, cwd=tmp_path, env=environment(), input=PASSWORD, text=True, check=True, capture_output=True)
    trace, port = tmp_path / "trace", free_port()
    words = ["strace", "-f", "-qq", "-o", str(trace), *LEADLINE, "serve", "--port", str(port)]
    server = subprocess.Popen(
        words, cwd=tmp_path, env=environment(), stdout=subprocess.PIPE, text=True, preexec_fn=hardened
    )
    try:
        assert server.stdout is not None
        assert "Leadline is at" in server.stdout.readline()
        at_work(port)
        os.kill(int(trace.read_text().partition(" ")[0]), signal.SIGTERM)
        server.wait(30)
    finally:
        server.kill()
        server.communicate()
    asked = trace.read_text()
    calls = set(re.findall(r"^\d+ +([a-z]\w+)\(", asked, re.M))
    assert len(calls) > 50, "the trace has what a server does"
    assert calls - allowed_calls() == set()
    families = re.search(r"RestrictAddressFamilies=(.*)", UNIT)
    assert families
    assert set(re.findall(r"\bsocket(?:pair)?\((AF_\w+)", asked)) <= set(families[1].split())
    assert "PROT_READ|PROT_EXEC" in asked, "its libraries are seen"
    assert not re.search(r"PROT_WRITE\|PROT_EXEC|m?protect\([^)]*PROT_EXEC", asked)
