"""`--database`: the commands on a PostgreSQL database, beside a server that has it too."""

import io
from pathlib import Path

import httpx
import psycopg
import pytest
from sqlalchemy import make_url

from app.store.engine import FILE_NAME
from tests.ports import free_port
from tests.served import called, served

PASSWORD = "four grey herons"
FILE = Path(__file__).parents[2] / "procedures" / "pump-changeout.yaml"


def _done(folder: Path, *words: str | Path) -> str:
    found = called(*words, folder=folder)
    assert found.returncode == 0, found.stderr
    return found.stdout


def test_a_record_is_made_read_and_verified_in_a_database_while_a_server_has_it(
    tmp_path: Path, postgres_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{PASSWORD}\n"))
    monkeypatch.setenv("LEADLINE_DATABASE", postgres_url)
    assert "Run 1 of" in _done(tmp_path, "rehearse", FILE, "--finish", "--seed", "1")
    with served(["serve", "--port", str(free_port()), "--procedures", tmp_path], tmp_path) as server:
        assert "There are no accounts" in server.said
        found = httpx.get(f"{server.address}api/runs").json()
        assert [run["run"] for run in found] == [1]
        assert _done(tmp_path, "load", FILE).count("already there as revision") == 1
        assert "was added" in _done(tmp_path, "person", "add", "Ground", "--may", "keep")
        assert _done(tmp_path, "verify").startswith("Run 1: ")
        assert "chain whole" in _done(tmp_path, "verify", "1", "--database", postgres_url)
        exported = _done(tmp_path, "export", "1", "--as", "jsonl")
        assert exported.count("\n") > 40
    assert not (tmp_path / "leadline-data" / FILE_NAME).exists()
    assert _done(tmp_path, "person", "list").startswith("Ground ")


def test_the_variable_is_overruled_by_the_word_sqlite(
    tmp_path: Path, postgres_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LEADLINE_DATABASE", postgres_url)
    _done(tmp_path, "load", FILE, "--database", "sqlite", "--data", tmp_path / "own")
    assert (tmp_path / "own" / FILE_NAME).stat().st_size > 4096
    with psycopg.connect(postgres_url.replace("+psycopg", "")) as raw:
        assert raw.execute("SELECT count(*) FROM pg_tables WHERE schemaname = 'public'").fetchone() == (0,)


def test_a_fault_is_told_before_anything_is_served_and_without_the_password(tmp_path: Path, postgres_url: str) -> None:
    wrong = make_url(postgres_url).set(password="so secret").render_as_string(hide_password=False)
    for words in (["serve"], ["load", FILE], ["verify"], ["person", "list"]):
        found = called(*words, "--database", wrong, folder=tmp_path)
        assert found.returncode == 1
        assert "Give the right password" in found.stderr
        assert "Traceback" not in found.stderr
        assert "so secret" not in found.stderr + found.stdout
    assert called("serve", "--database", " ", folder=tmp_path).returncode == 2


def test_a_tampered_log_is_found_in_a_database(tmp_path: Path, postgres_url: str) -> None:
    here = ("--database", postgres_url)
    _done(tmp_path, "rehearse", FILE, "--finish", "--seed", "1", *here)
    with psycopg.connect(postgres_url.replace("+psycopg", "")) as raw:
        raw.execute("ALTER TABLE event DISABLE TRIGGER event_no_update")
        raw.execute("UPDATE event SET at_s = at_s + 1 WHERE run = 1 AND seq = 9")
    found = called("verify", *here, folder=tmp_path)
    assert found.returncode == 1
    assert "event 9 was changed" in found.stderr
    assert "guards against changing rows were taken out of this database, or others put in: event_no_update" in (
        found.stderr
    )
