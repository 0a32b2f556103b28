"""Hostile connections to a real server: bodies without end, halves of requests, odd addresses, headers and ranges."""

import re
import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import ExitStack, suppress
from pathlib import Path

import httpx
import pytest

from app.main import LARGEST_BODY
from app.web.safe_headers import HEADERS as SAFE
from tests.pace import within
from tests.served import LEADLINE, ROOT, Served, environment
from tests.web.streams import own, serving

WITHIN_S = 20
ANSWERED_S = 2.0
MOST_MB = 256
"""HARM's bounds: for the answer to a hostile input, and for what the server then holds."""
STATUS = Path("/proc/self/status")


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """What it says on its error output goes to a file beside its data. At the end: not a traceback, little memory."""
    folder = tmp_path_factory.mktemp("connections")
    words = [*LEADLINE, *serving(folder)]
    with (folder / "errors").open("w") as errors:
        process = subprocess.Popen(
            words, cwd=folder, env=environment(), stdout=subprocess.PIPE, stderr=errors, text=True
        )
    assert process.stdout is not None
    said = next(line for line in process.stdout if "http://" in line)
    found = Served(process, said[said.index("http://") :].strip(), said)
    try:
        yield found
        assert "Traceback" not in (folder / "errors").read_text()
    finally:
        found.stop()
        process.stdout.close()


@pytest.fixture(scope="module")
def client(server: Served) -> Iterator[httpx.Client]:
    """Made once: making one takes longer than the answer."""
    with httpx.Client(base_url=server.address, timeout=WITHIN_S, headers={"Connection": "close"}) as made:
        yield made


@pytest.fixture(autouse=True)
def answers_on(server: Served, client: httpx.Client) -> Iterator[None]:
    """Whatever a test does, the next request is answered in time and the server has not grown."""
    yield
    began = time.monotonic()
    assert client.get("/api/runs").status_code == 200
    assert within(time.monotonic() - began, ANSWERED_S)
    assert most_mb(server) < MOST_MB


def most_mb(server: Served) -> float:
    """The most memory that the process ever had; 0 where the system does not say (VmHWM, proc_pid_status(5))."""
    status = Path(f"/proc/{server.process.pid}/status")
    found = re.search(r"VmHWM:\s*([0-9]+)", status.read_text()) if status.exists() else None
    return int(found[1]) / 1024 if found else 0


def host(server: Served) -> str:
    return server.address.removeprefix("http://").removesuffix("/")


def connected(server: Served) -> socket.socket:
    name, _, port = host(server).rpartition(":")
    return socket.create_connection((name, int(port)), WITHIN_S)


def head(server: Served, line: str, *headers: str) -> bytes:
    said = [f"{line} HTTP/1.1", f"Host: {host(server)}", f"Origin: http://{host(server)}", *headers, "", ""]
    return "\r\n".join(said).encode("latin-1")


def asked(server: Served, sent: bytes) -> bytes:
    """The whole answer to a request that asks for the connection to be closed."""
    with connected(server) as connection:
        connection.sendall(sent)
        said = b""
        with suppress(ConnectionError):
            while piece := connection.recv(65_536):
                said += piece
        return said


def status(answer: bytes) -> int:
    return int(answer.split(b" ", 2)[1])


PLACES = {
    "/api/runs": "application/json",
    "/api/procedures": "application/yaml",
    "/procedures": "multipart/form-data; boundary=x",
    "/name": "application/x-www-form-urlencoded",
}


@pytest.mark.parametrize("path", PLACES)
def test_a_body_without_end_is_answered_in_words_and_then_cut(server: Served, path: str) -> None:
    piece = b"10000\r\n" + b"a" * 0x10000 + b"\r\n"
    with connected(server) as connection:
        begin = head(server, f"POST {path}", f"Content-Type: {PLACES[path]}", "Transfer-Encoding: chunked")
        connection.sendall(begin + piece * (LARGEST_BODY // 0x10000 + 1))
        answer = connection.recv(65_536)
        assert status(answer) in (400, 413)
        assert b"\r\n\r\n" in answer
        with pytest.raises(ConnectionError):
            connection.sendall(piece * 3_000)


@pytest.mark.parametrize("size", [str(LARGEST_BODY + 1), str(2**62)])
def test_a_body_that_says_it_is_too_large_is_not_waited_for(server: Served, size: str) -> None:
    with connected(server) as connection:
        connection.sendall(head(server, "POST /api/runs", "Content-Type: application/json", f"Content-Length: {size}"))
        assert status(connection.recv(65_536)) == 413


@pytest.mark.parametrize(
    "length", ["-1", "1e3", "0x10", "3\r\nContent-Length: 4", "3\r\nTransfer-Encoding: chunked", "٣"]
)
def test_a_length_that_makes_no_sense_is_refused(server: Served, length: str) -> None:
    said = f"POST /api/runs HTTP/1.1\r\nHost: {host(server)}\r\nContent-Length: {length}\r\n\r\nabc".encode()
    assert status(asked(server, said)) == 400


def test_half_requests_hold_up_nobody(server: Served, client: httpx.Client) -> None:
    """Two hundred stations that have sent half a request, or one drop of a body."""
    begin = head(server, "POST /api/procedures", "Content-Type: application/yaml", "Content-Length: 100")
    with ExitStack() as stack:
        for number in range(200):
            connection = stack.enter_context(connected(server))
            connection.sendall(begin[: len(begin) // 2] if number % 2 else begin + b"a")
        began = time.monotonic()
        for _ in range(5):
            assert client.get("/").status_code == 200
        assert within(time.monotonic() - began, 5 * ANSWERED_S)


@pytest.mark.parametrize("path", PLACES)
def test_who_goes_in_the_middle_of_a_body_leaves_no_error(server: Served, path: str) -> None:
    """That the error output has no traceback is looked at when the server is stopped."""
    with connected(server) as connection:
        connection.sendall(head(server, f"POST {path}", f"Content-Type: {PLACES[path]}", "Content-Length: 9") + b"a")
        time.sleep(0.1)


ADDRESSES = (
    "/static/../pyproject.toml", "/static/%2e%2e%2fpyproject.toml", "/static/..%2f..%2fetc/passwd",
    "/static//etc/passwd",
    "/static/%2e%2e/%2e%2e/etc/passwd", "/static/..%5c..%5cx", "/static/%00", "/static/leadline.css%00.js",
    "/%2e%2e%2f%2e%2e%2fetc%2fpasswd", "/procedures/..%2f..%2fx/file.yaml", "/procedures/%2e%2e%2f/plan",
    "/api/procedures/%2e%2e%2f/plan", "/runs/1/..%2f..%2fx", "/static/CON", "/CON", "/static/" + "x" * 300,
    "/" + "x" * 60_000,
    "/procedures/" + "a" * 60_000, "/api/procedures/" + "a" * 60_000 + "/plan", "/runs/" + "9" * 5_000 + "/desk",
    "/static", "/static/vendor", "/%ff%fe", "/%F0%9F%92%A5", "/runs/%D9%A3/desk", "*",
)  # fmt: skip


@pytest.mark.parametrize("path", ADDRESSES, ids=[path[:40] for path in ADDRESSES])
def test_an_odd_address_is_not_there_and_leads_nowhere(server: Served, path: str) -> None:
    answer = asked(server, head(server, f"GET {path}", "Connection: close"))
    assert status(answer) in (307, 404)
    assert b"root:" not in answer
    assert b"[project]" not in answer
    place = re.search(rb"\r\nlocation: ([^\r\n]*)", answer)
    assert place is None or place[1].startswith(server.address.encode())


RANGES = {
    "one byte": "bytes=0-0", "the last": "bytes=-1", "from behind the end": "bytes=99999999-",
    "backwards": "bytes=9-1",
    "14,000 of one byte": "bytes=" + ",".join(["0-0"] * 14_000),
    "6,000 overlapping": "bytes=" + ",".join(["0-"] * 6_000),
    "6,000 rising": "bytes=" + ",".join(f"{n}-{n}" for n in range(0, 10_000, 2)), "no unit": "0-1",
    "commas": "bytes=,,,",
    "2**70": f"bytes=0-{2**70}", "other digits": "bytes=\u00b2-\u00b3",
}  # fmt: skip


@pytest.mark.parametrize("ranges", RANGES.values(), ids=RANGES)
def test_ranges_of_a_file_cost_no_time(server: Served, ranges: str) -> None:
    """CVE-2025-62727: many ranges in one header took quadratic time in an older Starlette."""
    began = time.monotonic()
    answer = asked(server, head(server, "GET /static/vendor/inter.woff2", f"Range: {ranges}", "Connection: close"))
    assert status(answer) in (200, 206, 400, 416)
    assert within(time.monotonic() - began, ANSWERED_S)


HEADERS = {
    "a cookie of 60 KB": "Cookie: leadline_name=" + "%ff" * 20_000,
    "9,000 cookies": "Cookie: " + "; ".join(["a=b"] * 9_000),
    "a cookie of backslashes": 'Cookie: leadline_station="' + "\\" * 50_000,
    "cookies of others": 'Cookie: prefs={"a": 1}; \u00e9 b="x; leadline_station=012345',
    "an odd station": "Cookie: leadline_station=../x",
    "a foreign language": "Accept-Language: " + "a," * 30_000, "a kind of 60 KB": "Content-Type: " + "a/b; " * 12_000,
    "a seen event": f"Last-Event-ID: {2**70}", "a condition": "If-None-Match: " + '"a",' * 15_000,
    "a date": "If-Modified-Since: Mon, 99 Foo 9999 99:99:99 GMT",
    "a chain of proxies": "X-Forwarded-For: " + "1," * 30_000,
    "an expectation": "Expect: 101-nothing", "Latin-1": "X-A: \u00e9\u00ff", "a tab": "X-A: \t\t",
}  # fmt: skip


@pytest.mark.parametrize("header", HEADERS.values(), ids=HEADERS)
def test_an_odd_header_does_no_harm(server: Served, header: str) -> None:
    for path in ("/", "/api/runs", "/static/leadline.css"):
        assert status(asked(server, head(server, f"GET {path}", header, "Connection: close"))) in (200, 304, 431)


@pytest.mark.parametrize(
    "hosts", [("example.org",), (), ("{own}", "example.org"), ("example.org", "{own}"), ("{own}.",)]
)
def test_a_request_for_another_host_or_for_two_is_refused(server: Served, hosts: tuple[str, ...]) -> None:
    lines = "".join(f"Host: {each.replace('{own}', host(server))}\r\n" for each in hosts)
    for path in ("/", "/api/runs"):
        answer = asked(server, f"GET {path} HTTP/1.1\r\n{lines}Connection: close\r\n\r\n".encode())
        assert status(answer) == 400
        assert (b"application/problem+json" in answer) == path.startswith("/api")


NONSENSE = {
    "a TLS greeting": b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + bytes(500),
    "HTTP/2": b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
    "noise": bytes(range(256)) * 40, "HTTP/0.9": b"GET /\r\n\r\n",
    "a method of 5,000 signs": b"X" * 5_000 + b" / HTTP/1.1\r\n\r\n",
    "a folded header": b"GET / HTTP/1.1\r\nHost: x\r\n a\r\n\r\n", "a NUL": b"GET / HTTP/1.1\r\nHost: a\0b\r\n\r\n",
    "a bare line feed": b"GET / HTTP/1.1\nHost: x\n\n", "a chunk of no size": b"POST / HTTP/1.1\r\nHost: x\r\n"
    b"Transfer-Encoding: chunked\r\n\r\nzz\r\n",
}  # fmt: skip


@pytest.mark.parametrize("noise", NONSENSE.values(), ids=NONSENSE)
def test_what_is_no_request_is_refused(server: Served, noise: bytes) -> None:
    answer = asked(server, noise)
    assert answer == b"" or status(answer) == 400
    for name in SAFE if answer else ():
        assert f"\r\n{name}: ".encode().lower() in answer.partition(b"\r\n\r\n")[0].lower()


def test_a_thousand_small_requests_at_once_are_all_answered(server: Served) -> None:
    one = head(server, "GET /api/runs")
    last = head(server, "GET /api/runs", "Connection: close")
    assert asked(server, one * 999 + last).count(b"HTTP/1.1 200 OK") == 1_000


def test_the_server_was_a_real_one(server: Served) -> None:
    """Not a stub: it has loaded the samples, and serves them from this very checkout."""
    with httpx.Client(base_url=server.address, headers=own(server)) as client:
        assert client.get("/api/procedures").json()
        assert client.get("/static/leadline.css").text == (ROOT / "static" / "leadline.css").read_text()
    if STATUS.exists():
        assert 20 < most_mb(server) < MOST_MB
