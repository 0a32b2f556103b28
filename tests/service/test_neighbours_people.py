"""People at several servers of one PostgreSQL database: signed in at one is signed in at all, and out as well."""

from pathlib import Path

import pytest

from app.core.commands import Refusal
from app.service.people import People
from app.store.faults import StoreFailed
from tests.service.two_servers import server, two_servers, until
from tests.web.accounts import PASSWORD, quick


@pytest.fixture
def quickly(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.service.passwords._hasher", quick)


@pytest.mark.usefixtures("quickly")
def test_who_signs_in_or_is_disabled_at_one_server_is_so_at_the_other(tmp_path: Path, postgres_url: str) -> None:
    with two_servers(tmp_path, postgres_url) as (here, there):
        here.people.add("Kofi", "keep", PASSWORD)
        until(lambda: there.ended == [""], "the end of what was opened without accounts")
        token, session = here.people.sign_in("Kofi", PASSWORD, "station", "10.0.0.1", "")
        until(lambda: there.people.who(token) is not None, "the session")
        assert there.people.form_token(session.token) == here.people.form_token(session.token)
        there.people.sign_out(session.token)
        until(lambda: here.people.who(token) is None, "its end")
        until(lambda: session.token in here.ended, "the end of its streams")

        here.people.add("Mara", "mark", PASSWORD)
        until(lambda: len(there.people.everybody()) == 2, "both accounts")
        token, session = there.people.sign_in("Mara", PASSWORD, "station", "10.0.0.1", "")
        until(lambda: here.people.who(token) is not None, "the session")
        here.people.change("Mara", enabled=False)
        until(lambda: session.token in there.ended, "the end of its streams")
        assert there.people.who(token) is None
        with pytest.raises(Refusal, match="do not fit"):
            there.people.sign_in("Mara", PASSWORD, "station", "10.0.0.1", "")


@pytest.mark.usefixtures("quickly")
def test_what_two_keepers_do_at_two_servers_at_once_is_done_by_one_of_them(tmp_path: Path, postgres_url: str) -> None:
    with two_servers(tmp_path, postgres_url, hearing=False) as (here, there):
        here.people.add("Kofi", "keep", PASSWORD)
        with pytest.raises(Refusal, match="at another server"):
            there.people.add("Kofi", "keep", "another heron")
        there.people.read_again()
        with pytest.raises(Refusal, match="Kofi already"):
            there.people.add("Kofi", "keep", "another heron")
        there.people.sign_in("Kofi", PASSWORD, "station", "10.0.0.1", "")

        there.people.add("Kira", "keep", PASSWORD)
        here.people.read_again()
        here.people.change("Kofi", enabled=False)
        with pytest.raises(Refusal, match="at another server"):
            there.people.change("Kira", enabled=False)
        there.people.read_again()
        with pytest.raises(Refusal, match="only keeper"):
            there.people.change("Kira", enabled=False)


@pytest.mark.usefixtures("quickly")
def test_a_session_that_is_read_again_while_it_ends_is_not_begun_anew(
    tmp_path: Path, postgres_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its row can't be deleted, for the database was away; then all is read again."""

    def gone(_job: object) -> None:
        raise StoreFailed("the database is not there")

    with server(tmp_path, postgres_url) as here:
        here.people.add("Kofi", "keep", PASSWORD)
        token, session = here.people.sign_in("Kofi", PASSWORD, "station", "10.0.0.1", "")
        with monkeypatch.context() as broken:
            broken.setattr(here.store, "write", gone)
            with pytest.raises(StoreFailed):
                here.people.sign_out(session.token)
        here.people.read_again()
        assert here.people.who(token) is None
        here.people.sweep()
        assert People(here.store, here.service.clock).who(token) is None, "nor after a restart"
