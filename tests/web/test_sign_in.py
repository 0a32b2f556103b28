"""Signing in and out, guessing, and what a page must send with what it changes."""

import re
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import httpx
import pytest

from app.service.people import SESSION_LASTS
from app.service.throttle import STATION
from app.store.engine import FILE_NAME
from app.web.access import TOKEN_HEADER
from tests.service.making import settings
from tests.web.accounts import NAMES, PASSWORD, Browser, quick, with_people
from tests.web.site import BASE, Site, words

WRONG = "five grey herons"


@pytest.fixture(autouse=True)
def quickly(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.service.passwords._hasher", quick)


@pytest.fixture
def peopled(site: Site) -> tuple[Site, dict[str, Browser]]:
    return site, with_people(site)


def test_without_accounts_this_machine_may_do_all_and_the_page_says_so(site: Site) -> None:
    home = words(site.page("/"))
    assert "There are no accounts: whoever is at this machine may do everything" in home
    assert site.json("/api/me") | {"token": "", "station": ""} == {
        "name": None, "may": "keep", "open": True, "token": "", "station": "",
    }  # fmt: skip


def test_with_accounts_a_page_leads_to_the_sign_in_and_back(peopled: tuple[Site, dict[str, Browser]]) -> None:
    site, _ = peopled
    run = 1
    who = Browser(site)
    answer = who.get(f"/runs/{run}/log?find=go&only=hold")
    assert (answer.status_code, answer.headers["location"]) == (
        303, "/sign-in?next=%2Fruns%2F1%2Flog%3Ffind%3Dgo%26only%3Dhold",
    )  # fmt: skip
    assert f'value="/runs/{run}/log?find=go&amp;only=hold"' in who.get(answer.headers["location"]).text
    went = who.sign_in("Mara", after=f"/runs/{run}/log?find=go&only=hold")
    assert (went.status_code, went.headers["location"]) == (303, f"/runs/{run}/log?find=go&only=hold")
    assert "Signed in as Mara , who may mark" in words(who.get("/").text)


def test_names_are_found_whatever_their_case_and_passwords_are_not(peopled: tuple[Site, dict[str, Browser]]) -> None:
    site, _ = peopled
    assert Browser(site).sign_in(" mARA ").status_code == 303
    assert Browser(site).sign_in("Mara", PASSWORD.upper()).status_code == 401


@pytest.mark.parametrize("name", ["Mara", "Nobody", "", "Mara\r\nSet-Cookie: a=b"])
def test_a_wrong_password_and_an_unknown_name_get_the_same_answer(
    peopled: tuple[Site, dict[str, Browser]], name: str
) -> None:
    site, _ = peopled
    answer = Browser(site).sign_in(name, WRONG)
    assert answer.status_code == 401
    assert "That name and password do not fit" in answer.text
    assert "leadline_session" not in answer.headers.get("set-cookie", "")
    assert "a=b" not in answer.headers.get("set-cookie", "")


def test_the_log_has_the_name_of_the_account_and_no_other(peopled: tuple[Site, dict[str, Browser]]) -> None:
    site, browsers = peopled
    run = int(browsers["lead"].post("/runs", data={"revision": site.load()}).headers["location"].split("/")[2])
    who = browsers["mark"]
    who.cookies["leadline_name"] = "Lena"
    assert who.post(f"/runs/{run}/orders", data={"do": "note", "reason": "by form"}).status_code == 303
    assert who.post(f"/api/runs/{run}/orders", json={"do": "note", "reason": "by API"}).status_code == 200
    refused = who.post(f"/api/runs/{run}/orders", json={"do": "note", "reason": "as another", "by": "Lena"})
    assert (refused.status_code, refused.json()["code"]) == (403, "not-you")
    events = who.get(f"/api/runs/{run}/events").json()
    assert [event["by"] for event in events] == ["Lena", "Mara", "Mara"]


def test_a_session_is_dead_after_sign_out_even_for_who_kept_its_cookie(
    peopled: tuple[Site, dict[str, Browser]],
) -> None:
    site, browsers = peopled
    thief = Browser(site)
    thief.cookies = dict(browsers["keep"].cookies)
    assert thief.get("/people").status_code == 200
    assert browsers["keep"].post("/sign-out").status_code == 303
    assert "leadline_session" not in browsers["keep"].cookies
    assert thief.get("/people").status_code == 303
    assert thief.get("/api/runs").status_code == 401


def test_a_disabled_account_is_out_at_once_and_stays_out(peopled: tuple[Site, dict[str, Browser]]) -> None:
    site, browsers = peopled
    assert browsers["keep"].post("/people", data={"do": "disable", "name": "Mara"}).status_code == 303
    assert browsers["mark"].get("/api/runs").status_code == 401
    assert Browser(site).sign_in("Mara").status_code == 401
    browsers["keep"].post("/people", data={"do": "enable", "name": "Mara"})
    assert browsers["mark"].get("/api/runs").status_code == 401, "the old session came back"
    assert Browser(site).sign_in("Mara").status_code == 303


def test_a_session_ends_after_a_day(peopled: tuple[Site, dict[str, Browser]]) -> None:
    site, browsers = peopled
    site.clock.at_s += (SESSION_LASTS - timedelta(seconds=1)).total_seconds()
    assert browsers["mark"].get("/api/runs").status_code == 200
    site.clock.at_s += 2
    assert browsers["mark"].get("/api/runs").status_code == 401
    ended: list[str] = []
    site.shell.people.listen(ended.append)
    site.shell.people.sweep()
    assert len(ended) == len(NAMES)


def test_a_restart_signs_nobody_out_and_pages_that_were_open_may_still_send(tmp_path: Path) -> None:
    with Site(tmp_path) as site:
        browsers = with_people(site)
        run = int(browsers["lead"].post("/runs", data={"revision": site.load()}).headers["location"].split("/")[2])
    with Site(tmp_path) as again:
        who = browsers["mark"]
        who.site = again
        assert who.post(f"/runs/{run}/orders", data={"do": "note", "reason": "kept"}).status_code == 303


def test_neither_passwords_nor_sessions_can_be_read_from_the_database(tmp_path: Path) -> None:
    with Site(tmp_path) as site:
        browsers = with_people(site)
        token = browsers["mark"].cookies["leadline_session"]
        with closing(sqlite3.connect(tmp_path / "data" / FILE_NAME)) as raw:
            dump = "\n".join(raw.iterdump())
    assert PASSWORD not in dump
    assert token not in dump
    assert dump.count("$argon2id$") == len(NAMES)


def test_who_signs_in_where_another_was_ends_that_session(peopled: tuple[Site, dict[str, Browser]]) -> None:
    site, browsers = peopled
    left = Browser(site)
    left.cookies = dict(browsers["keep"].cookies)
    assert browsers["keep"].sign_in("Mara").status_code == 303
    assert left.get("/api/me").status_code == 401


def test_a_refused_sign_in_is_one_line_of_the_servers_log(
    peopled: tuple[Site, dict[str, Browser]], caplog: pytest.LogCaptureFixture
) -> None:
    site, _ = peopled
    Browser(site, "10.0.0.3").sign_in("Mara\r\nall is well\u2028x", WRONG)
    lines = [record.getMessage() for record in caplog.records if "sign-in" in record.getMessage()]
    assert lines == ["a sign-in as 'mara all is well x' from 10.0.0.3 was refused"]


# Guessing (HARM, section 2: people)


def guesses(site: Site, count: int, at: str, name: str = "Mara") -> list[int]:
    """The statuses of so many wrong passwords from one address, as quick as they come."""
    who = Browser(site, at)
    return [who.post("/sign-in", data={"name": name, "password": f"wrong {n}"}).status_code for n in range(count)]


def test_a_thousand_wrong_passwords_are_stopped_and_the_right_person_still_gets_in(
    peopled: tuple[Site, dict[str, Browser]],
) -> None:
    site, browsers = peopled
    statuses = guesses(site, 1_000, "10.0.0.66")
    assert statuses.count(401) == STATION.tries
    assert statuses.count(429) == 1_000 - STATION.tries
    # From another station, at once; from a browser where they were signed in before, even at the guesser's address.
    assert Browser(site, "10.0.0.7").sign_in("Mara").status_code == 303
    browsers["mark"].at = "10.0.0.66"
    browsers["mark"].post("/sign-out")
    assert browsers["mark"].sign_in("Mara").status_code == 303
    # From the guesser's own address, after the seconds that the answer names.
    fresh = Browser(site, "10.0.0.66")
    told = fresh.sign_in("Mara")
    assert told.status_code == 429
    assert "too many wrong tries" in told.text
    site.clock.at_s += int(told.headers["retry-after"])
    assert fresh.sign_in("Mara").status_code == 303


def test_guesses_at_one_account_from_many_stations_are_stopped_too(peopled: tuple[Site, dict[str, Browser]]) -> None:
    site, browsers = peopled
    statuses = [status for n in range(20) for status in guesses(site, 5, f"10.0.1.{n}")]
    assert 0 < statuses.count(429) == 100 - 40
    browsers["mark"].post("/sign-out")
    assert browsers["mark"].sign_in("Mara").status_code == 303, "whose browser is known has tries of its own"
    assert Browser(site, "10.0.2.1").sign_in("Lena").status_code == 303, "another account is not held up"


def test_the_api_counts_tries_too_and_says_how_long_to_wait(peopled: tuple[Site, dict[str, Browser]]) -> None:
    site, _ = peopled
    sent = {"name": "Mara", "password": WRONG}
    answers = [
        site.bare("POST", "/api/sessions", at="10.0.0.9", json=sent, headers={"Origin": BASE}) for _ in range(12)
    ]
    assert [answer.status_code for answer in answers] == [401] * 10 + [429] * 2
    assert answers[-1].headers["content-type"] == "application/problem+json"
    assert int(answers[-1].headers["retry-after"]) == 6


def test_a_known_browser_is_known_for_its_own_person_only(peopled: tuple[Site, dict[str, Browser]]) -> None:
    site, browsers = peopled
    guesses(site, 12, "10.0.0.66", "Lena")
    browsers["mark"].at = "10.0.0.66"
    assert browsers["mark"].sign_in("Lena", WRONG).status_code == 429
    browsers["mark"].cookies["leadline_device"] = "0000." + "0" * 64
    assert browsers["mark"].sign_in("Mara").status_code == 429


# What a request that changes something must carry


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


def test_cookies_can_neither_be_read_by_scripts_nor_sent_by_other_sites(
    peopled: tuple[Site, dict[str, Browser]],
) -> None:
    site, _ = peopled
    kept = Browser(site).sign_in("Mara").headers.get_list("set-cookie")
    assert len(kept) == 2
    for cookie in kept:
        assert "HttpOnly" in cookie
        assert "SameSite=strict" in cookie
        assert "Secure" not in cookie, "plain http would lose it"


def test_with_a_certificate_the_session_goes_by_https_alone(tmp_path: Path) -> None:
    made = replace(settings(tmp_path, tmp_path / "none"), tls_cert=tmp_path / "cert.pem", tls_key=tmp_path / "key.pem")
    with Site(tmp_path, made) as site:
        site.shell.people.add("Kofi", "keep", PASSWORD)
        answer = Browser(site).sign_in("Kofi")
    session = next(cookie for cookie in answer.headers.get_list("set-cookie") if "session" in cookie)
    assert session.startswith("__Host-leadline_session=")
    assert {"Secure", "Path=/"} <= {part.strip() for part in session.split(";")}


# The keeper


def test_the_keeper_adds_changes_and_disables_people_by_the_page(site: Site) -> None:
    who = Browser(site)
    add = {"do": "add", "name": "Mara", "may": "mark", "password": PASSWORD}
    assert "The first account must be one that may keep" in who.post("/people", data=add).text
    assert who.post("/people", data=add | {"name": "Kofi", "may": "keep"}).status_code == 303
    assert who.get("/people").status_code == 303, "from now on one signs in"
    who.sign_in("Kofi")
    assert who.post("/people", data=add).status_code == 303
    assert "There is somebody called MARA already" not in who.get("/people").text
    assert who.post("/people", data=add | {"name": "MARA"}).status_code == 409
    assert who.post("/people", data={"do": "may", "name": "Mara", "may": "lead"}).status_code == 303
    assert who.post("/people", data={"do": "password", "name": "Mara", "password": "another heron"}).status_code == 303
    assert Browser(site).sign_in("Mara", "another heron").status_code == 303
    for change in ({"do": "disable"}, {"do": "may", "may": "lead"}):
        refused = who.post("/people", data={"name": "Kofi"} | change)
        assert (refused.status_code, "is the only keeper" in refused.text) == (409, True)


BAD = {
    "seven signs": ("Nora", "1234567"), "65 signs": ("Nora", "ab" * 32 + "c"), "one sign": ("Nora", "aaaaaaaaaa"),
    "its own name": ("Nora Nora", "nora nora"), "no name": (" ", PASSWORD), "41 signs": ("n" * 41, PASSWORD),
    "a bell": ("No\x07ra", PASSWORD), "an override": ("No\u202era", PASSWORD), "reserved": ("leadLine", PASSWORD),
    "zero width": ("No\u200bra", PASSWORD),
}  # fmt: skip


@pytest.mark.parametrize(("name", "password"), BAD.values(), ids=BAD)
def test_a_name_or_password_that_will_not_do_is_refused_in_words(
    peopled: tuple[Site, dict[str, Browser]], name: str, password: str
) -> None:
    _, browsers = peopled
    answer = browsers["keep"].post("/people", data={"do": "add", "name": name, "may": "mark", "password": password})
    assert answer.status_code == 422
    assert "Not done." in answer.text


def test_one_changes_ones_own_password_and_is_signed_out_everywhere(peopled: tuple[Site, dict[str, Browser]]) -> None:
    site, browsers = peopled
    who = browsers["mark"]
    form = {"old": WRONG, "new": "a newer heron", "again": "a newer heron"}
    assert who.post("/password", data=form).status_code == 401
    assert who.post("/password", data=form | {"old": PASSWORD, "again": "another"}).status_code == 422
    assert who.post("/password", data=form | {"old": PASSWORD}).status_code == 303
    assert who.get("/api/me").status_code == 401
    assert Browser(site).sign_in("Mara").status_code == 401
    assert Browser(site).sign_in("Mara", "a newer heron").status_code == 303


# Hosts


def ours(site: Site, host: str) -> int:
    return site.bare("GET", "/api/me", headers={"Host": host}).status_code


def test_a_name_that_is_not_ours_is_not_answered(site: Site) -> None:
    for host in ("127.0.0.1:8765", "localhost", "LOCALHOST:1", "[::1]:8765", "127.0.0.1"):
        assert ours(site, host) == 200, host
    for host in ("evil.example", "127.0.0.1.evil.example", "", "[::1", "10.0.0.5", "127.0.0.1@evil.example", "a b"):
        assert ours(site, host) == 400, host


def test_names_given_at_the_start_are_ours_too(tmp_path: Path) -> None:
    made = replace(settings(tmp_path, tmp_path / "none"), known_as=("Board.Larkspur.example",))
    with Site(tmp_path, made) as site:
        assert ours(site, "board.larkspur.example:8765") == 200
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
