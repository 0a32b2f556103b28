"""What a request must carry to change something: whence it comes, and the token of its session. Hosts, and headers."""

import asyncio
import re
from collections.abc import AsyncIterator
from dataclasses import replace
from pathlib import Path

import httpx
import pytest

from app.web.access import TOKEN_HEADER
from app.web.guard import _same_address
from tests.service.making import SMALL, settings
from tests.web.accounts import PASSWORD, Browser, quick, with_people
from tests.web.site import BASE, Site

WRONG = "five grey herons"


@pytest.fixture(autouse=True)
def quickly(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.service.passwords._hasher", quick)


@pytest.fixture
def peopled(site: Site) -> tuple[Site, dict[str, Browser]]:
    return site, with_people(site)


ORIGINS = ["http://evil.example", "null", "http://127.0.0.1:9999", "https://127.0.0.1:8765", "http://[::1", "//", ""]


@pytest.mark.parametrize("origin", ORIGINS)
@pytest.mark.parametrize("address", ["/runs/1/orders", "/procedures", "/api/runs/1/marks", "/sign-in", "/people"])
def test_a_foreign_or_missing_origin_is_refused(site: Site, address: str, origin: str) -> None:
    site.start()
    headers = {"Origin": origin} if origin else {}
    headers |= {TOKEN_HEADER: site.client.headers[TOKEN_HEADER]}
    answer = site.bare("POST", address, headers=headers, json={"step": "rig/1"})
    assert answer.status_code == 403
    assert "it was refused" in answer.text
    assert len(site.json("/api/runs/1/events")) == 1


@pytest.mark.parametrize("said", ["", "0" * 32, "an older one", "é"])
def test_a_form_without_the_token_of_its_session_is_refused(
    peopled: tuple[Site, dict[str, Browser]], said: str
) -> None:
    _, browsers = peopled
    who = browsers["lead"]
    tokens = {"": "", "an older one": browsers["mark"].token}
    data = {"revision": "mast", "token": tokens.get(said, said)}
    own = who.token
    for address in ("/runs", "/procedures", "/name", "/sign-out", "/password"):
        who.token = ""
        answer = who.post(address, data=data)
        assert answer.status_code == 403, address
        assert "Load it anew; nothing was done" in answer.text
    who.token = ""
    assert who.post("/api/runs", json={"procedure": "mast"}).status_code == 403, "a cookie alone is not enough"
    assert who.post("/name", data={"token": own}).status_code == 303


def test_without_accounts_the_forms_carry_the_token_of_the_station(site: Site) -> None:
    run = site.start()
    del site.client.headers[TOKEN_HEADER]
    assert site.order(run, "note", reason="x").status_code == 403
    other = Browser(site)
    assert site.order(run, "note", reason="x", token=other.token).status_code == 403
    token = re.search(r'data-token="([0-9a-f]{32})"', site.page("/"))
    assert token
    assert site.order(run, "note", reason="x", token=token[1]).status_code == 303


@pytest.mark.parametrize("other", ['prefs={"a": 1}', "a b=c", "\u00fc=\u00e9", "=", 'x="', "$Version=1; a"])
def test_cookies_that_another_server_of_this_host_has_set_keep_nobody_out(site: Site, other: str) -> None:
    """A browser sends them along: cookies know no port (RFC 6265, 8.5)."""
    who = Browser(site)
    cookie = f"{other}; {who._cookie()}; {other}".encode("latin-1")
    page = site.bare("GET", "/", headers={"Cookie": cookie})
    token = page.text.partition('data-token="')[2].partition('"')[0]
    assert token == who.token
    sent = site.bare("POST", "/name", data={"name": "Mara", "token": token}, headers={"Origin": BASE, "Cookie": cookie})
    assert sent.status_code == 303


def test_a_program_signs_in_and_needs_neither_origin_nor_form(peopled: tuple[Site, dict[str, Browser]]) -> None:
    site, browsers = peopled
    run = int(browsers["lead"].post("/runs", data={"revision": site.load()}).headers["location"].split("/")[2])
    sent = {"name": "Mara", "password": PASSWORD, "station": "logger"}
    made = site.bare("POST", "/api/sessions", json=sent, headers={"Origin": BASE})
    assert made.status_code == 201
    assert made.json()["name"] == "Mara"
    bearer = {"Authorization": f"Bearer {made.json()['token']}"}
    order = {"do": "note", "reason": "from a program"}
    assert site.bare("POST", f"/api/runs/{run}/orders", json=order, headers=bearer).status_code == 200
    assert (
        site.bare("POST", f"/api/runs/{run}/orders", json=order, headers={"Authorization": "Bearer x"}).status_code
        == 401
    )
    foreign = bearer | {"Origin": "http://evil.example"}
    assert site.bare("POST", f"/api/runs/{run}/orders", json=order, headers=foreign).status_code == 403
    assert site.bare("DELETE", "/api/session", headers=bearer).status_code == 204
    assert site.bare("GET", "/api/runs", headers=bearer).status_code == 401


@pytest.mark.parametrize("after", ["//evil.example", "/\\evil.example", "https://evil.example", "evil", "/a\r\nb", ""])
def test_signing_in_leads_to_no_other_host(peopled: tuple[Site, dict[str, Browser]], after: str) -> None:
    site, _ = peopled
    assert Browser(site).sign_in("Mara", after=after).headers["location"] == "/"


def test_cookies_can_neither_be_read_by_scripts_nor_sent_with_what_another_site_posts(
    peopled: tuple[Site, dict[str, Browser]],
) -> None:
    """RFC 6265bis, 5.2: Lax ones come along when somebody follows a link, which changes nothing here."""
    site, _ = peopled
    kept = Browser(site).sign_in("Mara").headers.get_list("set-cookie")
    assert len(kept) == 2
    for cookie in kept:
        assert "HttpOnly" in cookie
        assert ("SameSite=lax" if "session" in cookie else "SameSite=strict") in cookie
        assert "Secure" not in cookie, "plain http would lose it"


def test_with_a_certificate_the_session_goes_by_https_alone(tmp_path: Path) -> None:
    made = replace(settings(tmp_path, tmp_path / "none"), tls_cert=tmp_path / "cert.pem", tls_key=tmp_path / "key.pem")
    with Site(tmp_path, made) as site:
        site.shell.people.add("Kofi", "keep", PASSWORD)
        kept = Browser(site).sign_in("Kofi").headers.get_list("set-cookie")
    assert {cookie.partition("=")[0] for cookie in kept} == {
        "__Host-leadline_session_8765", "__Host-leadline_device_8765",
    }  # fmt: skip
    for cookie in kept:
        assert {"Secure", "Path=/"} <= {part.strip() for part in cookie.split(";")}


def test_with_a_certificate_the_station_and_its_name_go_by_https_alone(tmp_path: Path) -> None:
    """By names of their own: a server of this host that has no certificate could not set the same ones any more."""
    made = replace(settings(tmp_path, tmp_path / "none"), tls_cert=tmp_path / "cert.pem", tls_key=tmp_path / "key.pem")
    sealed = BASE.replace("http:", "https:")
    with Site(tmp_path, made) as site:
        page = site.bare("GET", f"{sealed}/", headers={"Cookie": "leadline_station=5ad0f7"})
        (station,) = page.headers.get_list("set-cookie")
        token = page.text.partition('data-token="')[2].partition('"')[0]
        cookie = station.partition(";")[0]
        form, headers = {"name": "Mara", "token": token}, {"Origin": sealed, "Cookie": cookie}
        name = site.bare("POST", f"{sealed}/name", data=form, headers=headers).headers["set-cookie"]
        kept = {"Cookie": f"{cookie}; {name.partition(';')[0]}"}
        again = site.bare("GET", f"{sealed}/", headers=kept)
    assert "set-cookie" not in again.headers
    assert 'value="Mara"' in again.text
    for said, begins in ((station, "__Host-leadline_station="), (name, "__Host-leadline_name=")):
        assert said.startswith(begins)
        assert {"Secure", "Path=/", "HttpOnly"} <= {part.strip() for part in said.split(";")}


def test_what_another_site_shows_of_this_one_gives_the_browser_no_new_label(site: Site) -> None:
    """A frame or a picture there comes without our cookies; a link that is followed brings them (Lax)."""
    for kind in ("iframe", "image", "empty", ""):
        headers = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Dest": kind}
        assert "set-cookie" not in site.bare("GET", "/", headers=headers).headers, kind
    followed = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Dest": "document", "Sec-Fetch-Mode": "navigate"}
    assert "SameSite=Lax" in site.bare("GET", "/", headers=followed).headers["set-cookie"]
    assert "set-cookie" not in site.get("/", headers=followed).headers
    posted = site.bare("POST", "/name", headers=followed | {"Origin": "http://evil.example"})
    assert (posted.status_code, "set-cookie" in posted.headers) == (403, False)


@pytest.mark.parametrize("address", ["/api/runs/1/orders", "/api/procedures", "/runs/1/orders", "/people"])
def test_what_began_before_somebody_was_disabled_is_not_carried_out_after(
    peopled: tuple[Site, dict[str, Browser]], address: str
) -> None:
    """The first half of the body comes, then the keeper acts, then the rest comes."""
    site, browsers = peopled
    browsers["lead"].post("/runs", data={"revision": site.load()})
    site.shell.people.add("Kira", "keep", PASSWORD)
    who = Browser(site)
    who.sign_in("Kira")
    bodies = {"/people": b"do=add&name=Eve&may=keep&password=a+hidden+heron", "/runs/1/orders": b"do=note&reason=late"}
    body = bodies.get(address, SMALL if address == "/api/procedures" else b'{"do": "note", "reason": "late"}')
    kinds = {"/api/procedures": "text/plain", "/api/runs/1/orders": "application/json"}

    async def halves() -> AsyncIterator[bytes]:
        yield body[:7]
        await asyncio.to_thread(site.shell.people.change, "Kira", enabled=False)
        yield body[7:]

    headers = {"Content-Type": kinds.get(address, "application/x-www-form-urlencoded")}
    answer = who.post(address, content=halves(), headers=headers)
    assert answer.status_code == 401, answer.text
    assert len(browsers["lead"].get("/api/runs/1/events").json()) == 1
    assert "Eve" not in [person.name for person in site.shell.people.everybody()]


def ours(site: Site, host: str) -> int:
    return site.bare("GET", "/api/me", headers={"Host": host}).status_code


def test_a_name_that_is_not_ours_is_not_answered(site: Site) -> None:
    for host in ("127.0.0.1:8765", "localhost", "LOCALHOST:1", "[::1]:8765", "127.0.0.1", "localhost.:8765"):
        assert ours(site, host) == 200, host
    for host in (
        "evil.example",
        "127.0.0.1.evil.example",
        "",
        "[::1",
        "10.0.0.5",
        "127.0.0.1@evil.example",
        "a b",
        "..",
    ):
        assert ours(site, host) == 400, host


def test_names_given_at_the_start_are_ours_too(tmp_path: Path) -> None:
    names = ("Board.Larkspur.example", "ops.example.", "2001:DB8:0::7", "[2001:db8::8]")
    made = replace(settings(tmp_path, tmp_path / "none"), known_as=names)
    with Site(tmp_path, made) as site:
        assert ours(site, "board.larkspur.example:8765") == 200
        assert ours(site, "ops.example") == ours(site, "ops.example.:8765") == 200
        assert ours(site, "[2001:db8::7]:8765") == ours(site, "[2001:db8::8]") == 200
        assert ours(site, "[2001:db8::9]") == 400
        assert ours(site, "larkspur.example") == 400


@pytest.fixture
def headers(site: Site) -> httpx.Headers:
    run = site.start()
    return site.get(f"/runs/{run}/desk").headers


def test_the_headers_keep_everything_to_this_site(headers: httpx.Headers) -> None:
    policy = dict(part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";"))
    assert "unsafe" not in headers["content-security-policy"]
    assert policy["default-src"] == policy["script-src"] == policy["style-src"] == "'self'"
    assert policy["object-src"] == policy["base-uri"] == policy["frame-ancestors"] == "'none'"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cache-control"] == "no-store"
    assert headers["x-frame-options"] == "DENY"
    assert headers["referrer-policy"] == "same-origin"
    assert headers["cross-origin-opener-policy"] == headers["cross-origin-resource-policy"] == "same-origin"


def test_an_address_too_long_to_be_led_back_to_leads_to_its_page(peopled: tuple[Site, dict[str, Browser]]) -> None:
    who = Browser(peopled[0])
    answer = who.get(f"/runs/1/lead?if={'x' * 2_100}")
    assert answer.headers["location"] == "/sign-in?next=%2Fruns%2F1%2Flead"


def test_the_people_page_says_no_sentence_that_a_link_brings(peopled: tuple[Site, dict[str, Browser]]) -> None:
    site, browsers = peopled
    who = browsers["keep"]
    another = Browser(site)
    another.sign_in("Kofi")
    told = another.post("/people", data={"do": "password", "name": "Mara", "password": PASSWORD}).headers["location"]
    assert 'role="status"' in another.get(told).text
    for query in ("said=Sign+in+at+http://evil", "did=disable&name=Nobody", "did=sign+in+elsewhere&name=Mara"):
        assert 'role="status"' not in who.get(f"/people?{query}").text
    assert 'role="status"' not in who.get(told).text, "made for another station"
    assert 'role="status"' not in another.get(told.replace("did=password", "did=disable")).text
    assert 'role="status"' not in Browser(site).get(told.replace("/people", "/sign-in")).text


def test_an_ipv4_address_is_known_at_a_socket_of_both_kinds() -> None:
    assert _same_address("192.0.2.2", "::ffff:192.0.2.2")
    assert not _same_address("192.0.2.3", "::ffff:192.0.2.2")
    assert not _same_address("evil.example", "::1")
