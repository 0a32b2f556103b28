"""Guessing passwords is slowed down, and the right person still gets in."""

import asyncio
from threading import Event

import httpx
import pytest

from app.service.throttle import DEVICE, STATION
from app.web.in_turn import MOST_WAITING
from tests.web.accounts import PASSWORD, Browser, quick, with_people
from tests.web.site import BASE, Site

WRONG = "five grey herons"
STRANGERS = STATION.tries - DEVICE.tries
"""Tries at once of a station where nobody's browser is known."""


@pytest.fixture(autouse=True)
def quickly(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.service.passwords._hasher", quick)


@pytest.fixture
def peopled(site: Site) -> tuple[Site, dict[str, Browser]]:
    return site, with_people(site)


def guesses(site: Site, count: int, at: str, name: str = "Mara") -> list[int]:
    """The statuses of so many wrong passwords from one address, as quick as they come."""
    who = Browser(site, at)
    return [who.post("/sign-in", data={"name": name, "password": f"wrong {n}"}).status_code for n in range(count)]


def test_a_thousand_wrong_passwords_are_stopped_and_the_right_person_still_gets_in(
    peopled: tuple[Site, dict[str, Browser]],
) -> None:
    site, browsers = peopled
    statuses = guesses(site, 1_000, "10.0.0.66")
    assert statuses.count(401) == STRANGERS
    assert statuses.count(429) == 1_000 - STRANGERS
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
    # 40 of the account's, and of each later station the first.
    assert statuses.count(401) == 40 + 12
    assert statuses.count(429) == 100 - 52
    assert Browser(site, "10.0.2.7").sign_in("Mara").status_code == 303, "a station without wrong tries gets in"
    browsers["mark"].post("/sign-out")
    assert browsers["mark"].sign_in("Mara").status_code == 303, "whose browser is known has tries of its own"
    assert Browser(site, "10.0.2.1").sign_in("Lena").status_code == 303, "another account is not held up"


def test_the_api_counts_tries_too_and_says_how_long_to_wait(peopled: tuple[Site, dict[str, Browser]]) -> None:
    site, _ = peopled
    sent = {"name": "Mara", "password": WRONG}
    answers = [
        site.bare("POST", "/api/sessions", at="10.0.0.9", json=sent, headers={"Origin": BASE}) for _ in range(12)
    ]
    assert [answer.status_code for answer in answers] == [401] * STRANGERS + [429] * (12 - STRANGERS)
    assert answers[-1].headers["content-type"] == "application/problem+json"
    assert int(answers[-1].headers["retry-after"]) == 6


@pytest.mark.parametrize("known_first", [True, False])
def test_a_station_has_ten_wrong_tries_with_a_known_browser_and_without(
    peopled: tuple[Site, dict[str, Browser]], known_first: bool
) -> None:
    site, browsers = peopled
    known = browsers["mark"]
    known.at = "10.0.0.66"
    known.post("/sign-out")
    wrong = 0
    for is_known in (known_first, not known_first):
        if is_known:
            known.get("/sign-in")
            sent = [known.post("/sign-in", data={"name": "Mara", "password": f"wrong {n}"}) for n in range(14)]
            wrong += [answer.status_code for answer in sent].count(401)
        else:
            wrong += guesses(site, 14, "10.0.0.66").count(401)
    assert wrong == STATION.tries
    site.clock.at_s += STATION.each_s
    assert known.sign_in("Mara").status_code == 303


def test_ones_own_password_can_be_changed_while_somebody_guesses_at_the_same_station(
    peopled: tuple[Site, dict[str, Browser]],
) -> None:
    site, browsers = peopled
    guesses(site, 30, "127.0.0.1")
    form = {"old": WRONG, "new": "a newer heron", "again": "a newer heron"}
    statuses = [browsers["mark"].post("/password", data=form).status_code for _ in range(12)]
    assert statuses == [401] * DEVICE.tries + [429] * (12 - DEVICE.tries)
    site.clock.at_s += STATION.each_s
    assert browsers["mark"].post("/password", data=form | {"old": PASSWORD}).status_code == 303


def test_a_known_browser_is_known_for_its_own_person_only(peopled: tuple[Site, dict[str, Browser]]) -> None:
    site, browsers = peopled
    guesses(site, 12, "10.0.0.66", "Lena")
    browsers["mark"].at = "10.0.0.66"
    assert browsers["mark"].sign_in("Lena", WRONG).status_code == 429
    browsers["mark"].cookies["leadline_device_8765"] = "0000." + "0" * 64
    assert browsers["mark"].sign_in("Mara").status_code == 429


async def run_known(site: Site) -> str:
    return await site.shell.in_turn.run(True, lambda: "in the other queue")


def test_while_passwords_are_looked_at_everybody_else_goes_on(
    peopled: tuple[Site, dict[str, Browser]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One try hangs; others wait behind it, so many at most, and nobody else does: not even who is known here."""
    site, _ = peopled
    slow = Event()
    monkeypatch.setattr("app.service.people.fits", lambda *_: slow.wait(20) and False)
    sent = {"name": "Mara", "password": WRONG}

    async def all_at_once() -> tuple[list[int], int]:
        def client(at: str) -> httpx.AsyncClient:
            return httpx.AsyncClient(transport=httpx.ASGITransport(site.app, client=(at, 1)), base_url=BASE)

        async def sign_in(at: str) -> int:
            async with client(at) as one:
                return (await one.post("/api/sessions", json=sent, headers={"Origin": BASE})).status_code

        tries = [asyncio.create_task(sign_in(at)) for at in (f"10.0.0.{number}" for number in range(MOST_WAITING + 3))]
        while sum(each.done() for each in tries) < 3:
            await asyncio.sleep(0.01)
        async with client("10.0.0.9") as other:
            page = await other.get("/sign-in")
            known = await run_known(site)
        slow.set()
        assert known == "in the other queue"
        return await asyncio.gather(*tries), page.status_code

    statuses, page = site.run(all_at_once())
    assert page == 200
    assert sorted(statuses) == [401] * MOST_WAITING + [429] * 3


def test_a_try_that_nobody_looked_at_is_not_counted(
    peopled: tuple[Site, dict[str, Browser]], monkeypatch: pytest.MonkeyPatch
) -> None:
    site, _ = peopled
    here, program = Browser(site, "10.0.0.5"), {"name": "Mara", "password": PASSWORD}
    with monkeypatch.context() as patched:
        patched.setitem(site.shell.in_turn._waiting, False, MOST_WAITING)
        for _ in range(STATION.tries + 5):
            assert "Many sign in just now" in here.sign_in("Mara").text
            assert (
                site.bare("POST", "/api/sessions", at="10.0.0.6", json=program, headers={"Origin": BASE}).status_code
                == 429
            )
    assert here.sign_in("Mara").status_code == 303
    assert site.bare("POST", "/api/sessions", at="10.0.0.6", json=program, headers={"Origin": BASE}).status_code == 201


def test_what_one_browser_is_known_for_says_nothing_of_another_name(peopled: tuple[Site, dict[str, Browser]]) -> None:
    """A token of “Ann Mara” is the text of one of “Mara”, were the name only appended."""
    people = peopled[0].shell.people
    people.add("Ann Mara", "mark", PASSWORD)
    nonce, _, seal = people.device_token("Ann Mara").partition(".")
    assert people._is_of(f"{nonce}.{seal}", "ann mara")
    assert not people._is_of(f"{nonce} ann.{seal}", "mara")
    token = people.device_token("Mara")
    people.change("Mara", password="another heron")
    assert not people._is_of(token, "mara"), "a new password ends what the old one began"
