"""Signing in and out, guessing, and what a page must send with what it changes."""

import re
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from app.service.people import SESSION_LASTS
from app.store.engine import FILE_NAME
from tests.service.making import settings
from tests.web.accounts import NAMES, PASSWORD, Browser, quick, with_people
from tests.web.site import Site, words

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


def test_who_is_signed_in_already_goes_on_from_the_sign_in_page(peopled: tuple[Site, dict[str, Browser]]) -> None:
    """A browser may leave its cookie out for one request, when a link of another site is followed."""
    _, browsers = peopled
    for after, leads in (("%2Fruns%2F1%2Fdesk", "/runs/1/desk"), ("%2F%2Fevil.example", "/"), ("", "/")):
        answer = browsers["watch"].get(f"/sign-in?next={after}")
        assert (answer.status_code, answer.headers["location"]) == (303, leads)
    assert browsers[""].get("/sign-in?next=%2Fruns%2F1%2Fdesk").status_code == 200


def test_a_sign_in_page_where_nobody_can_sign_in_says_so_and_what_to_do(site: Site) -> None:
    page = site.page("/sign-in")
    assert "There are no accounts, so nobody signs in" in words(page)
    assert 'href="/people"' in page
    assert 'name="password"' not in page
    site.shell.people.add("Kofi", "keep", PASSWORD)
    assert 'name="password"' in Browser(site).get("/sign-in").text
    people = site.shell.people._people  # Leadline itself keeps its last keeper; a database may come otherwise.
    people["Kofi"] = replace(people["Kofi"], enabled=False)
    page = Browser(site).get("/sign-in").text
    assert "Every account is disabled, so nobody can sign in" in words(page)
    assert "leadline person enable NAME" in words(page)
    assert "no accounts" not in words(page)
    assert 'name="password"' not in page


def test_where_others_reach_a_server_without_accounts_the_sign_in_page_says_how_to_add_one(tmp_path: Path) -> None:
    made = replace(settings(tmp_path, tmp_path / "none"), host="192.0.2.1", known_as=("127.0.0.1",))
    with Site(tmp_path, made) as site:
        page = words(Browser(site).get("/sign-in").text)
    assert "Nobody has an account yet." in page
    assert "leadline person add NAME --may keep" in page


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
    assert "leadline_session_8765" not in answer.headers.get("set-cookie", "")
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
    assert "leadline_session_8765" not in browsers["keep"].cookies
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
        token = browsers["mark"].cookies["leadline_session_8765"]
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
    assert lines == ["a sign-in as 'mara all is well x' from '10.0.0.3' was refused"]


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


def test_what_was_changed_is_said_in_words_that_tell_one_change_from_another(
    peopled: tuple[Site, dict[str, Browser]],
) -> None:
    who = peopled[1]["keep"]
    for sent, said in (
        ({"do": "add", "name": "Nora", "may": "watch", "password": PASSWORD}, "Nora was added, who may watch."),
        ({"do": "may", "name": "Nora", "may": "lead"}, "Nora may lead now"),
        ({"do": "password", "name": "nora", "password": "another heron"}, "Nora has a new password"),
        ({"do": "disable", "name": "Nora"}, "Nora is disabled"),
        ({"do": "enable", "name": "Nora"}, "Nora may sign in again, and may lead"),
    ):
        answer = who.post("/people", data=sent)
        assert f"Done. {said}" in words(who.get(answer.headers["location"]).text)


def test_a_refusal_keeps_the_name_and_the_right_that_were_chosen(peopled: tuple[Site, dict[str, Browser]]) -> None:
    who = peopled[1]["keep"]
    sent = {"do": "add", "name": "<Nora> Lund", "may": "watch", "password": "short"}
    page = who.post("/people", data=sent).text
    form = page[page.index("Add somebody") :]
    assert 'name="name" value="&lt;Nora&gt; Lund"' in form
    assert re.findall(r"<option selected>(\w+)", form) == ["watch"]
    assert "short" not in page.replace("too short", "")
    page = who.post("/people", data={"do": "may", "name": "Nobody", "may": "watch"}).text
    assert re.findall(r"<option selected>(\w+)", page[page.index("Add somebody") :]) == ["mark"]


BAD = {
    "seven signs": ("Nora", "1234567"), "65 signs": ("Nora", "ab" * 32 + "c"), "one sign": ("Nora", "aaaaaaaaaa"),
    "its own name": ("Nora Nora", "nora nora"), "no name": (" ", PASSWORD), "41 signs": ("n" * 41, PASSWORD),
    "a bell": ("No\x07ra", PASSWORD), "an override": ("No\u202era", PASSWORD), "reserved": ("leadLine", PASSWORD),
    "zero width": ("No\u200bra", PASSWORD), "a joiner": ("No\u034fra", PASSWORD),
    "a selector": ("Nora\ufe0f", PASSWORD), "a filler": ("\u3164", PASSWORD), "a blank": ("\u2800", PASSWORD),
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
    changed = who.post("/password", data=form | {"old": PASSWORD})
    assert changed.status_code == 303
    assert "Your password is changed. You are signed out everywhere" in words(who.get(changed.headers["location"]).text)
    assert "Your password is changed" not in who.get("/sign-in?told=1").text
    assert who.get("/api/me").status_code == 401
    assert Browser(site).sign_in("Mara").status_code == 401
    assert Browser(site).sign_in("Mara", "a newer heron").status_code == 303
