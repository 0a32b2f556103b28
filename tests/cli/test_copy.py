"""`leadline copy`, and `leadline backup --database`: everything from one database into another, told in words."""

import re
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import make_url

from app.settings import HOME
from app.store.engine import FILE_NAME
from app.store.sqlite_store import SqliteStore
from tests.served import called, environment
from tests.store.loosening import loosened
from tests.store.released import populated


@pytest.fixture
def data() -> Iterator[Path]:
    """The newest release's folder, opened once: runs of 52, 10 and 2 events, two accounts."""
    with populated() as folder:
        SqliteStore(folder, HOME / "migrations").close()
        yield folder


def heads(said: str) -> list[str]:
    return re.findall(r"^Run [0-9]+: .*head ([0-9]+:[0-9a-f]{64})$", said, re.M)


def test_copy_says_what_it_copied_and_each_head_as_verify_has_it(data: Path, tmp_path: Path, postgres_url: str) -> None:
    said = called("copy", "--from", data, "--to", postgres_url, folder=tmp_path)
    assert said.returncode == 0, said.stderr
    assert re.search(r"made from .*: 2 revisions, 3 runs, 64 events, 2 people, in [0-9]+\.[0-9] s\n", said.stdout)
    assert heads(said.stdout) == heads(called("verify", "--data", data, folder=tmp_path).stdout)
    assert "sessions did not: everybody signs in anew" in said.stdout
    back = called("copy", "--from", postgres_url, "--to", "sqlite:///back", folder=tmp_path)
    assert back.returncode == 0, back.stderr
    assert heads(called("verify", "--data", "back", folder=tmp_path).stdout) == heads(said.stdout)


def test_no_password_is_ever_printed(data: Path, tmp_path: Path, postgres_url: str) -> None:
    word = make_url(postgres_url).password
    assert word
    wrong = postgres_url.replace(word, "wrong-word")
    elsewhere = postgres_url.rpartition("/")[0] + "/nowhere"
    for source, target in (
        (data, postgres_url),
        (data, postgres_url),
        (postgres_url, wrong),
        (postgres_url, elsewhere),
    ):
        said = called("copy", "--from", source, "--to", target, folder=tmp_path)
        assert said.stdout + said.stderr
        assert word not in said.stdout + said.stderr
        assert "wrong-word" not in said.stdout + said.stderr


def test_a_password_may_come_from_the_environment(
    data: Path, tmp_path: Path, postgres_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    url = make_url(postgres_url)
    monkeypatch.setenv("PGPASSWORD", str(url.password))
    bare = f"postgresql://{url.username}@{url.host}:{url.port}/{url.database}"
    said = called("copy", "--from", data, "--to", bare, folder=tmp_path)
    assert said.returncode == 0, said.stderr


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        (("--from", "{data}", "--to", "{data}"), "--from and --to name the same place."),
        (("--from", "none", "--to", "new"), "There is no database none/leadline.sqlite3."),
        (("--from", "{data}", "--to", "mysql://desk:secret-word@db/x"), "mysql:// is not known here."),
        (("--from", "{data}", "--to", "postgresql://127.0.0.1:1/x"), "See that PostgreSQL runs there"),
    ],
)
def test_what_cannot_be_copied_is_a_sentence(data: Path, tmp_path: Path, words: tuple[str, ...], answer: str) -> None:
    said = called("copy", *(word.format(data=data) for word in words), folder=tmp_path)
    assert said.returncode in (1, 2)
    assert answer in said.stderr
    assert "secret-word" not in said.stderr
    assert "Traceback" not in said.stderr
    assert not (tmp_path / "new").exists()


def test_without_the_driver_a_postgresql_place_is_a_sentence_and_folders_are_copied(data: Path, tmp_path: Path) -> None:
    def without_driver(target: str) -> subprocess.CompletedProcess[str]:
        code = "import sys; sys.modules['psycopg'] = None; from app.cli import main; main()"
        line = [sys.executable, "-c", code, "copy", "--from", str(data), "--to", target]
        return subprocess.run(
            line, cwd=tmp_path, env=environment(), capture_output=True, text=True, timeout=60, check=False
        )

    said = without_driver("postgresql://db/x")
    assert (said.returncode, said.stdout) == (1, "")
    assert "pip install 'psycopg[binary]>=3.2.4,<4'" in said.stderr
    assert without_driver("new").returncode == 0
    assert (tmp_path / "new" / FILE_NAME).exists()


def test_a_backup_of_a_postgresql_database_is_restored_and_copied_like_any_other(
    data: Path, tmp_path: Path, postgres_url: str
) -> None:
    copied = called("copy", "--from", data, "--to", postgres_url, folder=tmp_path)
    kept = called("backup", "kept.sqlite3", "--database", postgres_url, folder=tmp_path)
    assert kept.returncode == 0, kept.stderr
    assert kept.stdout.startswith("kept.sqlite3: 3 runs, 64 events\n")
    assert (tmp_path / "kept.sqlite3").stat().st_mode & 0o777 == 0o600
    assert called("restore", "kept.sqlite3", "--data", "new", folder=tmp_path).returncode == 0
    assert heads(called("verify", "--data", "new", folder=tmp_path).stdout) == heads(copied.stdout)
    assert called("copy", "--from", "kept.sqlite3", "--to", "again", folder=tmp_path).returncode == 0
    again = called("backup", "kept.sqlite3", "--database", postgres_url, folder=tmp_path)
    assert again.returncode == 1
    assert "is there already" in again.stderr
    assert sorted(each.name for each in tmp_path.iterdir()) == ["again", "kept.sqlite3", "new"]


def test_a_log_that_does_not_fit_is_not_copied_and_the_data_stay_as_they_are(data: Path, tmp_path: Path) -> None:
    loosened(data / FILE_NAME, "DELETE FROM event WHERE run = 1 AND seq = 52")
    said = called("copy", "--from", data, "--to", "new", folder=tmp_path)
    assert (said.returncode, said.stdout) == (1, "")
    assert "What was to be copied is not sound: run 1: " in said.stderr
    assert list(tmp_path.iterdir()) == []
    with closing(sqlite3.connect(data / FILE_NAME)) as raw:
        assert raw.execute("SELECT count(*) FROM event").fetchone() == (63,)
