"""Accounts and sessions: what cannot be seen through the pages, and what two threads do at once."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from app.core.commands import Refusal
from app.service.passwords import fits, hashed
from app.service.people import People
from app.service.rights import RIGHTS, allows
from app.store.people import people as rows
from app.store.secret import SECRET_NAME, secret
from app.store.store import Store
from tests.service.making import SetClock, store
from tests.web.accounts import PASSWORD, quick


@pytest.fixture
def quickly(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.service.passwords._hasher", quick)


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[Store]:
    with store(tmp_path) as found:
        yield found


def test_each_right_holds_those_before_it() -> None:
    for place, right in enumerate(RIGHTS):
        assert [allows(right, needed) for needed in RIGHTS] == [n <= place for n in range(len(RIGHTS))]


def test_passwords_are_kept_as_argon2id_with_the_parameters_of_rfc_9106() -> None:
    """Section 4, the second recommended option: 3 passes over 64 MiB with 4 lanes, a salt of 16 bytes (from memory)."""
    kept = hashed(PASSWORD)
    assert kept.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    assert kept != hashed(PASSWORD), "each has a salt of its own"
    assert fits(PASSWORD, kept)
    assert not fits(PASSWORD + " ", kept)
    assert not fits(PASSWORD, None)


@pytest.mark.usefixtures("quickly")
def test_the_same_letters_are_the_same_password_however_they_are_composed(opened: Store) -> None:
    """Unicode Standard Annex 15: é is one code point or two."""
    people = People(opened, SetClock().server())
    people.add("Zoe", "keep", "caf\u00e9 herons")
    people.sign_in("Zoe", "cafe\u0301 herons", "station", "10.0.0.1", "")


@pytest.mark.usefixtures("quickly")
def test_a_session_that_began_while_its_account_was_disabled_is_none(opened: Store) -> None:
    people = People(opened, SetClock().server())
    people.add("Kofi", "keep", PASSWORD)
    people.add("Mara", "mark", PASSWORD)

    def sign_in() -> str:
        try:
            return people.sign_in("Mara", PASSWORD, "station", "10.0.0.1", people.device_token("Mara"))[0]
        except Refusal:
            return ""

    with ThreadPoolExecutor(4) as pool:
        trying = [pool.submit(sign_in) for _ in range(9)]
        people.change("Mara", enabled=False)
    assert all(people.who(token.result()) is None for token in trying)
    again = People(opened, SetClock().server())
    assert all(again.who(token.result()) is None for token in trying)


@pytest.mark.usefixtures("quickly")
def test_who_was_told_to_end_hears_of_each_session_once(opened: Store) -> None:
    people = People(opened, SetClock().server())
    people.add("Kofi", "keep", PASSWORD)
    sessions = [people.sign_in("Kofi", PASSWORD, "station", "10.0.0.1", "")[1].token for _ in range(3)]
    ended: list[str] = []
    people.listen(ended.append)
    people.sign_out(sessions[0])
    people.change("Kofi", password="another heron")
    assert ended == sessions


@pytest.mark.usefixtures("quickly")
def test_the_first_account_ends_what_was_opened_without_one(opened: Store) -> None:
    people = People(opened, SetClock().server())
    ended: list[str] = []
    people.listen(ended.append)
    people.add("Kofi", "keep", PASSWORD)
    people.add("Mara", "mark", PASSWORD)
    assert ended == [""]


@pytest.mark.usefixtures("quickly")
def test_a_change_that_is_refused_changes_nothing(opened: Store) -> None:
    people = People(opened, SetClock().server())
    people.add("Kofi", "keep", PASSWORD)
    token = people.sign_in("Kofi", PASSWORD, "station", "10.0.0.1", "")[0]
    before = opened.read(rows)
    for change in ({"may": "lead"}, {"enabled": False}, {"password": "short"}, {"may": "rule"}):
        with pytest.raises(Refusal):
            people.change("Kofi", **change)
    assert opened.read(rows) == before
    assert people.who(token) is not None


def test_the_secret_is_made_once_and_readable_to_its_owner_alone(tmp_path: Path) -> None:
    first = secret(tmp_path)
    assert len(first) == 32
    assert secret(tmp_path) == first
    assert (tmp_path / SECRET_NAME).stat().st_mode & 0o777 == 0o600
    (tmp_path / SECRET_NAME).write_bytes(b"cut short")
    assert secret(tmp_path) not in (first, b"cut short")


@pytest.mark.usefixtures("quickly")
def test_two_keepers_who_disable_each_other_leave_one(opened: Store) -> None:
    people = People(opened, SetClock().server())
    for name in ("Kofi", "Kira"):
        people.add(name, "keep", PASSWORD)

    def disable(name: str) -> bool:
        try:
            people.change(name, enabled=False)
        except Refusal:
            return False
        return True

    for _ in range(20):
        with ThreadPoolExecutor(2) as pool:
            assert sorted(pool.map(disable, ("Kofi", "Kira"))) == [False, True]
        for name in ("Kofi", "Kira"):
            people.change(name, enabled=True)


@pytest.mark.usefixtures("quickly")
def test_one_name_is_added_once_however_it_is_written_and_by_however_many(opened: Store) -> None:
    people = People(opened, SetClock().server())

    def add(name: str) -> bool:
        try:
            people.add(name, "keep", PASSWORD)
        except Refusal:
            return False
        return True

    for number in range(10):
        names = [f"Olga {number}", f"OLGA {number}", f"olga  {number}", f"\uff2flga {number}"]
        with ThreadPoolExecutor(4) as pool:
            assert sorted(pool.map(add, names)) == [False, False, False, True]


@pytest.mark.usefixtures("quickly")
def test_a_slow_change_of_ones_password_does_not_undo_what_the_keeper_did_meanwhile(
    opened: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    people = People(opened, SetClock().server())
    people.add("Kofi", "keep", PASSWORD)
    people.add("Mara", "mark", PASSWORD)

    def slowly(password: str) -> str:
        people.change("Mara", enabled=False)
        return hashed(password)

    monkeypatch.setattr("app.service.people.hashed", slowly)
    with pytest.raises(Refusal, match="was just changed"):
        people.change_own_password("Mara", PASSWORD, "another heron", "10.0.0.1")
    assert [person.enabled for person in people.everybody()] == [True, False]
