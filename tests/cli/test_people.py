"""`leadline person`: accounts from the command line, and what a server without them refuses."""

import io
import sqlite3
import subprocess
from pathlib import Path

import httpx
import pytest

from app.store.engine import FILE_NAME
from app.web.host_names import never_asked_for
from tests.ports import free_port
from tests.served import LEADLINE, called, environment, leadline, served

PASSWORD = "four grey herons"


@pytest.fixture(autouse=True)
def typed(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pipe that gives the password."""
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{PASSWORD}\n" * 9))


def said(folder: Path, *words: str) -> str:
    found = called("person", *words, folder=folder)
    assert found.returncode == 0, found.stderr
    return found.stdout


def refused(folder: Path, *words: str) -> str:
    found = called("person", *words, folder=folder)
    assert found.returncode == 1
    assert "Traceback" not in found.stderr
    return found.stderr


def test_people_are_added_listed_changed_and_disabled(tmp_path: Path) -> None:
    assert "There is no database in leadline-data" in refused(tmp_path, "list")
    assert not (tmp_path / "leadline-data").exists(), "a name that was mistyped made a folder"
    assert said(tmp_path, "add", "Kofi", "--may", "keep") == "Kofi was added, who may keep.\n"
    assert said(tmp_path, "add", "Mara Lund", "--may", "mark") == "Mara Lund was added, who may mark.\n"
    assert "may lead now" in said(tmp_path, "may", "mara  lund", "lead")
    assert "has a new password" in said(tmp_path, "password", "Mara Lund")
    assert "is disabled" in said(tmp_path, "disable", "Mara Lund")
    assert said(tmp_path, "list").split() == ["Kofi", "keep", "Mara", "Lund", "lead", "disabled"]
    assert "may sign in again" in said(tmp_path, "enable", "Mara Lund")


def test_what_cannot_be_is_a_sentence(tmp_path: Path) -> None:
    assert "The first account must be one that may keep" in refused(tmp_path, "add", "Mara", "--may", "watch")
    said(tmp_path, "add", "Kofi", "--may", "keep")
    assert "There is somebody called KOFI already" in refused(tmp_path, "add", "KOFI", "--may", "mark")
    assert "watch, mark, lead, train or keep, not “rule”" in refused(tmp_path, "add", "Mara", "--may", "rule")
    assert "nobody called Nora" in refused(tmp_path, "disable", "Nora")
    assert "is the only keeper" in refused(tmp_path, "disable", "Kofi")


def test_a_password_that_will_not_do_is_a_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for typed, why in (("short", "8 to 64 characters"), ("", "8 to 64 characters"), ("aaaaaaaa", "too easy to guess")):
        monkeypatch.setattr("sys.stdin", io.StringIO(f"{typed}\n"))
        assert why in refused(tmp_path, "add", "Kofi", "--may", "keep")


def test_while_a_server_runs_it_says_where_people_are_kept(tmp_path: Path) -> None:
    with served(["serve", "--port", str(free_port())], tmp_path):
        found = leadline("person", "list", folder=tmp_path)
    assert found.returncode == 1
    assert "on its page /people" in found.stderr


def test_with_an_account_other_machines_are_served_and_without_tls_it_says_what_that_means(tmp_path: Path) -> None:
    before = called("serve", "--host", "0.0.0.0", "--port", free_port(), folder=tmp_path)
    assert before.returncode == 1
    assert "leadline person add NAME --may keep" in before.stderr
    said(tmp_path, "add", "Kofi", "--may", "keep")
    port = free_port()
    words = [*LEADLINE, "serve", "--host", "0.0.0.0", "--port", str(port)]
    process = subprocess.Popen(words, cwd=tmp_path, env=environment(), stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        assert "Without --tls-cert" in process.stdout.readline()
        assert "and at every other address of this machine" in process.stdout.readline()
        # The address at which a request arrives is ours, whatever it is; nobody is let in without signing in.
        assert httpx.get(f"http://127.0.0.1:{port}/api/runs").status_code == 401
    finally:
        process.terminate()
        process.communicate(timeout=10)


def test_with_nobody_who_can_sign_in_no_other_machine_is_served(tmp_path: Path) -> None:
    said(tmp_path, "add", "Mara", "--may", "keep")
    with sqlite3.connect(tmp_path / "leadline-data" / FILE_NAME) as database:  # Leadline itself keeps its last keeper.
        database.execute("UPDATE person SET enabled = 0")
    database.close()
    found = called("serve", "--host", "0.0.0.0", "--port", free_port(), folder=tmp_path)
    assert found.returncode == 1
    assert "Nobody has an account" in found.stderr


def test_a_server_without_accounts_says_so_when_it_starts(tmp_path: Path) -> None:
    with served(["serve", "--port", str(free_port())], tmp_path) as server:
        assert "There are no accounts: whoever is at this machine may do everything." in server.said


NEVER = {
    "Board.Larkspur.example:8915": "give the name alone, without scheme, port or path: board.larkspur.example",
    "http://board.larkspur.example": "give the name alone, without scheme, port or path: board.larkspur.example",
    "board.larkspur.example/": "give the name alone, without scheme, port or path: board.larkspur.example",
    "*": "* stands for none", "*.larkspur.example": "* stands for none",
    "k\u00fcche.example": "browsers ask for it as xn--kche-0ra.example", "a b": "letters, digits, hyphens and dots",
    "": "letters, digits, hyphens and dots", "[::1": "letters, digits, hyphens and dots",
    "a..b": "letters, digits, hyphens and dots", f"{'a' * 64}.example": "letters, digits, hyphens and dots",
}  # fmt: skip


@pytest.mark.parametrize("name", NEVER)
def test_a_name_that_nobody_can_ask_for_is_refused_in_words(tmp_path: Path, name: str) -> None:
    found = called("serve", "--known-as", name, folder=tmp_path)
    assert found.returncode == 1
    assert f"--known-as {name!r} would never be asked for" in found.stderr
    assert NEVER[name] in found.stderr
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("name", ["board", "Ops.Larkspur.example.", "my_board.local", "192.0.2.7", "2001:db8::7",
                                  "[2001:DB8::7]", "xn--kche-0ra.example"])  # fmt: skip
def test_a_name_that_somebody_can_ask_for_is_taken(name: str) -> None:
    assert never_asked_for(name) is None


def test_a_server_without_accounts_that_is_known_elsewhere_says_what_that_means(tmp_path: Path) -> None:
    """Something on this machine may stand before it, and whatever asks through that comes from this machine."""
    words = ["serve", "--port", str(free_port()), "--known-as", "board.larkspur.example"]
    with served(words, tmp_path) as server:
        assert (
            "There are no accounts: whoever reaches this server, also as board.larkspur.example from elsewhere, "
            "may do everything." in server.said
        )
