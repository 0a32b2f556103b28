"""Leadline behind a real nginx with the configuration that it ships: streams, signing in, who asks, two servers."""

import re
import socket
import statistics
import subprocess
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import httpx
import pytest

from app.service.throttle import DEVICE, STATION
from app.web.keys import new_key
from tests.pace import within
from tests.ports import free_port
from tests.proxied import NAME, Proxy, nginx, why_not
from tests.served import LEADLINE, Served, environment, served

pytestmark = pytest.mark.skipif(bool(why_not()), reason=why_not() or "there is one")

PASSWORD = "four grey herons"
TRIES = STATION.tries - DEVICE.tries
MARKS = 7
AT_ONCE_S = 0.5
"""A tick comes each second, and would push on what was held back before it."""

BUFFERED = {"proxy_buffering off;": "proxy_buffering on; proxy_ignore_headers X-Accel-Buffering;"}
KEEPERS_OWN = {"        proxy_buffering off;\n": ""}
"""A configuration that says nothing of buffering, as somebody would write who did not read ours."""


@dataclass(frozen=True, slots=True)
class Behind:
    """Leadline with one account, and a run; nginx before it."""

    server: Served
    port: int
    folder: Path

    @contextmanager
    def proxied(self, name: str, changes: dict[str, str] | None = None) -> Iterator[Proxy]:
        with nginx(self.folder / name, self.port, changes) as proxy:
            yield proxy


@pytest.fixture(scope="module")
def behind(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Behind]:
    folder, port = tmp_path_factory.mktemp("behind"), free_port()
    added = [*LEADLINE, "person", "add", "Kofi", "--may", "keep"]
    subprocess.run(added, cwd=folder, env=environment(), input=PASSWORD, text=True, check=True, capture_output=True)
    words = ["serve", "--port", str(port), "--behind", "127.0.0.1", "--known-as", NAME]
    with served(words, folder) as server:
        yield Behind(server, port, folder)


@pytest.fixture(scope="module")
def proxy(behind: Behind) -> Iterator[Proxy]:
    with behind.proxied("shipped") as made:
        yield made


def bearer(client: httpx.Client) -> dict[str, str]:
    answer = client.post("/api/sessions", json={"name": "Kofi", "password": PASSWORD})
    assert answer.status_code == 201, answer.text
    return {"Authorization": f"Bearer {answer.json()['token']}"}


def started(client: httpx.Client) -> int:
    sent = {"procedure": "pump-changeout", "kind": "rehearsal", "key": new_key()}
    return int(client.post("/api/runs", json=sent).json()["run"])


def until_told(client: httpx.Client, run: int, count: int) -> list[float]:
    """Seconds from each of so many notes until a screen was told of it. The stream is that of all runs: its ticks,
    one a second, are short, and do not fill a buffer."""
    heard: dict[int, float] = {}
    arrived = threading.Condition()
    begun = threading.Event()

    def listen() -> None:
        with client.stream("GET", "/api/live", timeout=30) as answer:
            for line in answer.iter_lines():
                begun.set()
                found = re.match(r'data: .*"seq": ?(\d+)', line)
                if found:
                    with arrived:
                        heard.setdefault(int(found[1]), time.monotonic())
                        arrived.notify_all()
                if len(heard) == count:
                    return

    screen = threading.Thread(target=listen, daemon=True)
    screen.start()
    assert begun.wait(30), "the stream began"
    took = []
    for _ in range(count):
        began = time.monotonic()
        seq = client.post(f"/api/runs/{run}/orders", json={"do": "note", "reason": "x", "key": new_key()}).json()["seq"]
        with arrived:
            assert arrived.wait_for(partial(heard.__contains__, seq), 30)
        took.append(heard[seq] - began)
        time.sleep(0.15)
    screen.join(30)
    return took


@pytest.mark.alone
@pytest.mark.parametrize("changes", [{}, KEEPERS_OWN], ids=["as shipped", "with nothing said of buffering"])
def test_a_screen_behind_nginx_is_told_of_a_mark_at_once(behind: Behind, changes: dict[str, str]) -> None:
    with behind.proxied(f"at-once-{len(changes)}", changes) as made, made.client() as client:
        client.headers.update(bearer(client))
        took = until_told(client, started(client), MARKS)
    assert within(statistics.median(took), AT_ONCE_S)


@pytest.mark.alone
def test_an_nginx_that_holds_back_what_is_small_is_noticed(behind: Behind) -> None:
    """The control: what the shipped configuration, and the header that each stream carries, are for."""
    with behind.proxied("buffered", BUFFERED) as made, made.client() as client:
        client.headers.update(bearer(client))
        with pytest.raises(httpx.ReadTimeout), client.stream("GET", "/api/live", timeout=3) as answer:
            next(answer.iter_lines())


def test_nginx_sends_a_browser_that_came_by_http_on_to_https(proxy: Proxy) -> None:
    asked = {"Host": f"{NAME}:{proxy.plain_port}"}
    answer = httpx.get(f"http://127.0.0.1:{proxy.plain_port}/runs?x=1", headers=asked, follow_redirects=False)
    assert answer.status_code == 301
    assert answer.headers["location"] == f"https://{NAME}:{proxy.plain_port}/runs?x=1"


def test_one_signs_in_by_https_at_nginx_and_orders(proxy: Proxy) -> None:
    with proxy.client() as client:
        page = client.get("/sign-in")
        token = re.search(r'data-token="([0-9a-f]{32})"', page.text)
        assert token
        sent = {"name": "Kofi", "password": PASSWORD, "next": "/", "token": token[1]}
        answer = client.post("/sign-in", data=sent)
        assert answer.status_code == 303
        for cookie in [*page.headers.get_list("set-cookie"), *answer.headers.get_list("set-cookie")]:
            assert cookie.startswith("__Host-leadline_")
            assert "Secure" in cookie
        home = client.get("/")
        assert home.status_code == 200
        client.headers["X-Leadline-Token"] = home.text.partition('data-token="')[2].partition('"')[0]
        run = started(client)
        note = {"do": "note", "reason": "all at hand", "key": new_key()}
        assert client.post(f"/api/runs/{run}/orders", json=note).status_code in (200, 201)
        assert client.get(f"/api/runs/{run}/events").json()[-1]["by"] == "Kofi"
        otherwise = {"Origin": proxy.origin.replace("https", "http")}
        assert client.post("/name", data={"name": "x"}, headers=otherwise).status_code == 403


def test_headers_that_did_not_pass_nginx_are_not_believed(behind: Behind) -> None:
    """127.0.0.9 is this machine too, and not the address that was named."""
    transport = httpx.HTTPTransport(local_address="127.0.0.9")
    sealed = {"Host": f"{NAME}:{behind.port}", "Origin": f"https://{NAME}:{behind.port}", "X-Forwarded-Proto": "https"}
    sent = {"name": "Kofi", "password": PASSWORD}
    with httpx.Client(base_url=f"http://127.0.0.1:{behind.port}", transport=transport) as client:
        assert client.post("/api/sessions", json=sent, headers=sealed).status_code == 403
        plain = {"Origin": sealed["Origin"].replace("https", "http")}
        assert client.post("/api/sessions", json=sent, headers=sealed | plain).status_code == 201
        assert client.get("/api/runs", headers=sealed).status_code == 401, "nobody is at this machine"


def test_guesses_by_way_of_nginx_are_counted_by_who_makes_them(proxy: Proxy) -> None:
    """Each forges another address. On a slow machine tries come back meanwhile: it may be a few more than `TRIES`."""
    wrong = {"name": "Kofi", "password": "five grey herons"}
    statuses: list[int] = []
    with proxy.client("127.0.0.66") as guesser:
        while 429 not in statuses and len(statuses) < 10 * TRIES:
            forged = {"X-Forwarded-For": f"127.0.1.{len(statuses)}"}
            statuses.append(guesser.post("/api/sessions", json=wrong, headers=forged).status_code)
    assert statuses[:TRIES] == [401] * TRIES
    assert statuses[-1] == 429
    with proxy.client("127.0.0.7") as right:
        assert bearer(right)


def test_a_body_that_is_too_large_is_refused_in_our_words_through_nginx(proxy: Proxy) -> None:
    with proxy.client() as client:
        answer = client.post("/api/procedures", content=b"x" * 700_000, headers=bearer(client))
    assert answer.status_code == 413
    assert answer.headers["content-type"] == "application/problem+json"


class Upstream:
    """A server that hears each request out, then answers or goes away without a word. It counts what it was sent."""

    def __init__(self, answers: bool) -> None:
        self.heard: Counter[str] = Counter()
        self._answers = answers
        self._socket = socket.create_server(("127.0.0.1", free_port()))
        self.port = int(self._socket.getsockname()[1])
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self) -> None:
        while True:
            try:
                asked, _ = self._socket.accept()
            except OSError:
                return
            with asked:
                head = asked.recv(1 << 16).decode()
                self.heard[head.partition(" ")[0]] += 1
                if self._answers:
                    asked.sendall(b"HTTP/1.1 200 OK\r\nContent-Length: 2\r\nConnection: close\r\n\r\nok")

    def close(self) -> None:
        if self._socket.fileno() >= 0:
            self._socket.shutdown(socket.SHUT_RDWR)  # This wakes the thread that waits.
            self._socket.close()


@contextmanager
def two_servers(folder: Path) -> Iterator[tuple[Upstream, Upstream, Proxy]]:
    """The first goes away in the middle of a request, the second answers; the configuration as shipped for two."""
    first, second = Upstream(answers=False), Upstream(answers=True)
    both = {"# server 127.0.0.1:8766": f"server 127.0.0.1:{second.port}"}
    try:
        with nginx(folder / "two", first.port, both) as proxy:
            yield first, second, proxy
    finally:
        for each in (first, second):
            each.close()


def test_what_asks_goes_to_the_other_server_and_what_orders_is_never_sent_twice(tmp_path: Path) -> None:
    with two_servers(tmp_path) as (first, second, proxy), proxy.client() as client:
        ordered = client.post("/api/runs/1/orders", json={"do": "note"})
        assert ordered.status_code == 502, "the page sends it again itself, with its key"
        assert (first.heard["POST"], second.heard["POST"]) == (1, 0)
        # nginx now leaves the first one alone for a while; a question that is under way there still goes on.
        assert client.post("/api/runs/1/orders", json={"do": "note"}).text == "ok"
        assert client.get("/api/runs").text == "ok"
        assert second.heard == Counter({"POST": 1, "GET": 1})


def test_a_question_that_one_server_leaves_unanswered_is_asked_of_the_other(tmp_path: Path) -> None:
    with two_servers(tmp_path) as (first, second, proxy), proxy.client() as client:
        assert client.get("/api/runs").text == "ok"
        assert (first.heard["GET"], second.heard["GET"]) == (1, 1)


def test_an_order_that_could_not_reach_one_server_goes_to_the_other(tmp_path: Path) -> None:
    with two_servers(tmp_path) as (first, second, proxy), proxy.client() as client:
        first.close()
        assert client.post("/api/runs/1/orders", json={"do": "note"}).text == "ok"
        assert second.heard == Counter({"POST": 1})
