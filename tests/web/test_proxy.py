"""Behind a proxy: whom Leadline believes on who asks and by which scheme, and what follows from that."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import httpx
import pytest
from starlette.types import Message, Scope

from app.service.throttle import DEVICE, STATION
from app.web.live import HOME
from tests.service.making import settings
from tests.web.accounts import PASSWORD, Browser, quick
from tests.web.site import BASE, Site, words

PROXY, OUTER, STRANGER = "10.0.0.1", "10.0.0.2", "192.0.2.66"
SEALED = BASE.replace("http:", "https:")
TRIES = STATION.tries - DEVICE.tries
"""At once, of a station where nobody's browser is known."""


@pytest.fixture(autouse=True)
def quickly(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.service.passwords._hasher", quick)


@pytest.fixture
def behind(tmp_path: Path) -> Iterator[Site]:
    """A site that believes two proxies, with one account."""
    made = replace(settings(tmp_path, tmp_path / "none"), behind=(PROXY, OUTER))
    with Site(tmp_path, made) as site:
        site.shell.people.add("Kofi", "keep", PASSWORD)
        yield site


def guess(site: Site, at: str, hops: str) -> int:
    """The status of a wrong password that came from `at`, with that header of the hops before."""
    sent = {"name": "Kofi", "password": "five grey herons"}
    headers = {b"Origin": BASE.encode(), b"X-Forwarded-For": hops.encode("latin-1")}
    return site.bare("POST", "/api/sessions", at=at, json=sent, headers=headers).status_code


def test_tries_are_counted_by_the_client_that_the_proxy_names_and_not_by_the_proxy(behind: Site) -> None:
    statuses = [guess(behind, PROXY, "192.0.2.7") for _ in range(TRIES + 1)]
    assert statuses == [401] * TRIES + [429]
    assert guess(behind, PROXY, "192.0.2.8") == 401, "another client by way of the same proxy has tries of its own"


def test_what_a_client_wrote_into_the_header_itself_counts_for_nothing(behind: Site) -> None:
    """Each proxy adds at the end, so only what stands behind the last stranger was written by one that is believed."""
    statuses = [guess(behind, PROXY, f"198.51.100.{n}, 127.0.0.1, {STRANGER}") for n in range(TRIES + 1)]
    assert statuses == [401] * TRIES + [429]


def test_one_proxy_before_another_is_passed_over(behind: Site) -> None:
    statuses = [guess(behind, PROXY, f"198.51.100.{n}, {STRANGER}, {OUTER}") for n in range(TRIES + 1)]
    assert statuses == [401] * TRIES + [429]


def test_headers_from_elsewhere_are_not_believed(behind: Site) -> None:
    statuses = [guess(behind, STRANGER, f"198.51.100.{n}") for n in range(TRIES + 1)]
    assert statuses == [401] * TRIES + [429]
    told = {"X-Forwarded-Proto": "https", "Origin": SEALED}
    asked = {"name": "Kofi", "password": PASSWORD}
    assert behind.bare("POST", "/api/sessions", at="192.0.2.9", json=asked, headers=told).status_code == 403
    assert behind.bare("POST", "/api/sessions", at=PROXY, json=asked, headers=told).status_code == 201


def test_without_a_named_proxy_nobody_is_believed(site: Site) -> None:
    site.shell.people.add("Kofi", "keep", PASSWORD)
    statuses = [guess(site, "127.0.0.1", f"198.51.100.{n}") for n in range(TRIES + 1)]
    assert statuses == [401] * TRIES + [429]


def test_a_proxy_that_reaches_a_socket_of_both_kinds_is_known_by_its_ipv4_address(behind: Site) -> None:
    statuses = [guess(behind, f"::ffff:{PROXY}", f"198.51.100.{n}") for n in range(TRIES + 1)]
    assert statuses == [401] * (TRIES + 1)


@pytest.mark.parametrize(
    "hops", ["", "unknown", ",", "[", "[::1", "10.0.0.7:x", "\x80", "1" * 5_000, f"{STRANGER}:99999"]
)
def test_a_header_that_is_none_is_no_fault_and_still_somebody(behind: Site, hops: str) -> None:
    statuses = [guess(behind, PROXY, hops) for _ in range(TRIES + 1)]
    assert statuses == [401] * TRIES + [429]


@pytest.mark.parametrize("scheme", ["", "ftp", "https, http", "HTTPS\x80", "wss"])
def test_a_scheme_that_is_none_is_not_taken_for_https(behind: Site, scheme: str) -> None:
    page = behind.bare("GET", "/sign-in", at=PROXY, headers={b"X-Forwarded-Proto": scheme.encode("latin-1")})
    assert page.status_code == 200
    assert "Secure" not in page.headers["set-cookie"]


def _signed_in(site: Site, scheme: str) -> list[str]:
    """The cookies that a browser is given on its way in."""
    who = Browser(site, PROXY)
    origin = f"{scheme}://{BASE.partition('://')[2]}"
    headers = {"X-Forwarded-Proto": scheme, "Origin": origin}
    page = who.get("/sign-in", headers=headers)
    sent = {"name": "Kofi", "password": PASSWORD, "next": "/"}
    answer = who.post("/sign-in", data=sent, headers=headers)
    assert answer.status_code == 303
    assert who.get("/", headers=headers).status_code == 200, "the session is known again"
    return [*page.headers.get_list("set-cookie"), *answer.headers.get_list("set-cookie")]


def test_who_comes_to_the_proxy_by_https_gets_cookies_for_https_alone(behind: Site) -> None:
    kept = _signed_in(behind, "https")
    assert len(kept) == 3
    for cookie in kept:
        assert cookie.startswith("__Host-leadline_")
        assert "Secure" in cookie


def test_who_comes_to_the_proxy_by_http_gets_cookies_that_http_keeps(behind: Site) -> None:
    for cookie in _signed_in(behind, "http"):
        assert cookie.startswith("leadline_")
        assert "Secure" not in cookie


def test_behind_a_proxy_nobody_is_at_this_machine(tmp_path: Path) -> None:
    made = replace(settings(tmp_path, tmp_path / "none"), behind=("127.0.0.1",))
    assert made.on_loopback
    assert not made.alone
    with Site(tmp_path, made) as site:
        for headers in ({}, {"X-Forwarded-For": "127.0.0.1"}, {"X-Forwarded-For": STRANGER}):
            assert site.bare("GET", "/api/runs", headers=headers).status_code == 401
        assert "Nobody has an account" in words(site.page("/sign-in"))


def test_a_form_that_came_by_another_scheme_is_told_what_a_keeper_must_set(site: Site) -> None:
    refused = site.post("/name", data={"name": "x"}, headers={"Origin": SEALED})
    assert refused.status_code == 403
    assert "--behind" in refused.text
    assert "X-Forwarded-Proto" in refused.text
    elsewhere = site.post("/name", data={"name": "x"}, headers={"Origin": "https://board.example"})
    assert "--behind" not in elsewhere.text


def test_a_stream_tells_nginx_to_hold_nothing_back(site: Site) -> None:
    run = site.start()

    async def head(address: str) -> httpx.Headers:
        """Of an answer that never ends: the application is asked as a server asks it, and left at the first word."""
        found: list[tuple[bytes, bytes]] = []

        class Enough(Exception):
            pass

        async def send(message: Message) -> None:
            if message["type"] == "http.response.start":
                found.extend(message["headers"])
                raise Enough

        async def receive() -> Message:
            return {"type": "http.disconnect"}

        path, _, query = address.partition("?")
        scope: Scope = {
            "type": "http",
            "asgi": {"version": "3.0"},
            "method": "GET",
            "scheme": "http",
            "state": {},
            "path": path,
            "raw_path": path.encode(),
            "query_string": query.encode(),
            "server": ("127.0.0.1", 8765),
            "client": ("127.0.0.1", 1),
            "headers": [(b"host", b"127.0.0.1:8765")],
        }
        with pytest.raises(Enough):
            await site.app(scope, receive, send)
        return httpx.Headers(found)

    for address in (f"/api/runs/{run}/live", f"/api/live?run={run}&run={HOME}"):
        assert site.run(head(address))["x-accel-buffering"] == "no"
    assert "x-accel-buffering" not in site.get("/api/runs").headers
