"""What is sent to a real server to hurt it: bytes of whole requests by name. It sends nothing.

The bodies and files are those of the tests of the web and of the readers, so that what is added there is tried here.
"""

from collections.abc import Iterator

from app.main import LARGEST_BODY
from app.reading.files import CSV_TYPE, XLSX_TYPE
from app.web.access import TOKEN_HEADER
from tests.harm.server import HOST
from tests.harm.wire import COOKIE
from tests.reading import hostile_tables, hostile_workbooks, hostile_yaml
from tests.reading.test_csv_file import LONG
from tests.reading.test_xlsx_file import HOSTILE
from tests.web.broken import BODIES

YAML = "application/yaml"


def post(path: str, body: bytes, kind: str, *headers: str) -> bytes:
    """A whole POST as a page or program of this machine would send it. Who sends it fills in {host} and {token}."""
    head = [f"POST {path} HTTP/1.1", "Host: {host}", "Origin: http://{host}", f"Content-Type: {kind}"]
    head += [f"Cookie: {COOKIE}", f"{TOKEN_HEADER}: {{token}}"]
    return "\r\n".join([*head, f"Content-Length: {len(body)}", *headers, "", ""]).encode() + body


def get(target: str, *headers: str) -> bytes:
    return "\r\n".join([f"GET {target} HTTP/1.1", "Host: {host}", *headers, "", ""]).encode("utf-8", "surrogateescape")


def files() -> Iterator[tuple[str, bytes]]:
    """Procedure files, each as the API takes it."""
    for kind, cases in ((YAML, hostile_yaml), (CSV_TYPE, hostile_tables), (XLSX_TYPE, hostile_workbooks)):
        for each in cases.CASES:
            yield f"{kind}, {each.name}", post("/api/procedures", each.make(), kind)
    for name, text in LONG.items():
        yield f"CSV, {name}", post("/api/procedures", text.encode(), CSV_TYPE)
    for name, (make, _) in HOSTILE.items():
        yield f"XLSX, {name}", post("/api/procedures", make(), XLSX_TYPE)


def bodies(run: int) -> Iterator[tuple[str, bytes]]:
    """JSON bodies, and forms."""
    for name, body in BODIES.items():
        data = body.encode("utf-8", "surrogatepass") if isinstance(body, str) else body
        assert isinstance(data, bytes)
        for path in (f"/api/runs/{run}/marks", f"/api/runs/{run}/orders", "/api/runs"):
            yield f"JSON to {path}, {name}", post(path, data, "application/json")
    form = "application/x-www-form-urlencoded"
    yield "1,001 fields", post(f"/runs/{run}/orders", b"&".join(b"f%d=1" % n for n in range(1001)), form)
    yield "a field of 600 KB", post(f"/runs/{run}/orders", b"do=" + b"x" * 600_000, form)
    yield "a multipart body without an end", post("/procedures", b"--x\r\n" * 9, "multipart/form-data; boundary=x")
    yield "a boundary of 9 KB", post("/procedures", b"--", f"multipart/form-data; boundary={'x' * 9000}")
    yield "too large", post("/api/procedures", b"a" * (LARGEST_BODY + 1), YAML)
    chunk = b"10000\r\n" + b"a" * 0x10000 + b"\r\n"
    endless = get("/api/procedures", "Origin: http://{host}", f"Content-Type: {YAML}", "Transfer-Encoding: chunked")
    yield "chunks without end", endless.replace(b"GET", b"POST") + chunk * 40


IDS = ("-1", "abc", str(2**70), "999999", "", "1\t2", "\u2028")
RANGES = ("bytes=0-0", "bytes=" + ",".join(f"{n}-{n}" for n in range(1500)), "bytes=-1", "bytes=9-1", "x", "bytes=,,,")
TARGETS = (
    "/static/../app/main.py", "/static/%2e%2e/%2e%2e/etc/passwd", "/static/..%5c..%5cetc", "//example.org/", "/%00",
    "/runs/1/..%2f..%2f", "/" + "a" * 60_000, "/?" + "a=1&" * 9_000, "/runs/" + "9" * 400 + "/desk", "/CON",
    "/procedures/" + "%F0%9F%92%A5" * 300, "/runs/1/desk?at=" + "9" * 400, "/runs/-1/desk", "*", "http://example.org/",
    "/runs/1/log?find=" + "%25" * 3000, "/runs/1/log?find=" + "(a%2B)%2B" * 200, "/\udcff",
)  # fmt: skip


def requests(run: int) -> Iterator[tuple[str, bytes]]:
    """Odd addresses, headers and methods, and what is not HTTP at all."""
    yield from ((f"the address {each[:40]!r}", get(each)) for each in TARGETS)
    yield from (
        (f"Last-Event-ID {each[:20]!r}", get(f"/api/runs/{run}/live", f"Last-Event-ID: {each}")) for each in IDS
    )
    yield from ((f"Range {each[:20]!r}", get("/static/leadline.css", f"Range: {each}")) for each in RANGES)
    yield from ((f"the host {each!r}", _with_host(each)) for each in ("example.org", "", "127.0.0.1@x", "[::1", "a b"))
    for origin in ("http://example.org", "null", "", "http://["):
        yield f"the origin {origin!r}", get("/name", f"Origin: {origin}", "Content-Length: 0").replace(b"GET", b"POST")
    for method in ("DELETE", "TRACE", "CONNECT", "PROPFIND", "get", "X" * 5000):
        yield f"the method {method[:20]}", get("/").replace(b"GET", method.encode())
    yield "a header of 100 KB", get("/", "X-Long: " + "x" * 100_000)
    yield "10,000 headers", get("/", *(f"X-{n}: 1" for n in range(10_000)))
    yield "1,000 cookies", get("/", "Cookie: " + "; ".join(f"leadline_name=%ff{n}" for n in range(1000)))
    yield "a cookie of noise", get("/", 'Cookie: leadline_station="\\777; $x=\x7f; =;')
    yield "a web socket", get("/api/live", "Upgrade: websocket", "Connection: Upgrade", "Sec-WebSocket-Version: 13",
                              "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==")  # fmt: skip
    yield "HTTP/2 at once", b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n"
    yield "a TLS greeting", b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + bytes(500)
    yield "noise", bytes(range(256)) * 40
    yield "a length below zero", _length("-1")
    yield "a length that is no number", _length("1e3")
    yield "two lengths", _length("3\r\nContent-Length: 5")
    yield "a length and chunks", _length("3\r\nTransfer-Encoding: chunked")
    chunked = b"POST /name HTTP/1.1\r\nHost: {host}\r\nTransfer-Encoding: chunked\r\n\r\n"
    yield "a chunk of no size", chunked + b"zz\r\n"
    yield "a chunk that is larger than it says", chunked + b"1\r\nabcdef\r\n0\r\n\r\n"
    yield "HTTP/0.9", b"GET /\r\n\r\n"


def _with_host(host: str) -> bytes:
    return get("/").replace(b"{host}", host.encode())


def _length(said: str, rest: bytes = b"\r\nabc") -> bytes:
    return f"POST /name HTTP/1.1\r\nHost: {HOST}\r\nContent-Length: {said}\r\n".encode() + rest
