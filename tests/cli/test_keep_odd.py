"""What is no database of this Leadline: every command that keeps data refuses it in words and leaves it as it is."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from app.store.engine import FILE_NAME
from tests.ports import free_port
from tests.served import called
from tests.store.released import populated


@pytest.fixture
def data() -> Iterator[Path]:
    """The newest release's folder, which was in use."""
    with populated() as folder:
        yield folder


def _newer(file: Path) -> None:
    with closing(sqlite3.connect(file)) as raw:
        raw.execute("UPDATE alembic_version SET version_num = '0999'")
        raw.commit()


def _others(file: Path) -> None:
    file.unlink()
    with closing(sqlite3.connect(file)) as raw:
        raw.execute("CREATE TABLE recipes (name TEXT)")
        raw.execute("CREATE TABLE alembic_version (version_num TEXT)")
        raw.execute("INSERT INTO alembic_version VALUES ('0001')")
        raw.commit()


def _odd(file: Path) -> None:
    with closing(sqlite3.connect(file)) as raw:
        raw.execute("DROP TABLE alembic_version")
        raw.execute("CREATE TABLE alembic_version (other BLOB)")


BAD = {
    "newer": (_newer, "newer Leadline"),
    "others": (_others, "not one of Leadline"),
    "odd": (_odd, "not one of Leadline"),
    "text": (lambda file: file.write_text("a shopping list\n" * 400), "damaged, or never was"),
    "short": (lambda file: file.write_bytes(file.read_bytes()[:6000]), "damaged, or never was"),
    "empty": (lambda file: file.write_bytes(b""), "is empty"),
}


@pytest.mark.parametrize("what", BAD)
def test_every_command_refuses_what_is_no_database_of_this_leadline_in_words(
    tmp_path: Path, data: Path, what: str
) -> None:
    spoil, sentence = BAD[what]
    file = data / FILE_NAME
    spoil(file)
    (data / "leadline.secret").write_bytes(b"s" * 32)  # It was in use before: an empty file is then a loss.
    before = file.read_bytes()
    (tmp_path / "p.yaml").write_bytes(b"")
    commands = (("verify",), ("verify", 1), ("backup", "to"), ("load", "p.yaml"), ("serve", "--port", free_port()))
    for words in commands:
        said = called(*words, "--data", data, folder=tmp_path)
        assert (said.returncode, said.stdout) == (1, ""), words
        assert sentence in said.stderr, words
    assert file.read_bytes() == before
    restored = called("restore", file, "--data", tmp_path / "new", folder=tmp_path)
    assert (restored.returncode, restored.stdout) == (1, "")
    assert sentence in restored.stderr
    assert file.read_bytes() == before
    assert not (tmp_path / "new").exists()
    assert not (tmp_path / "to").exists()


def test_a_folder_without_a_database_stays_as_it_is(tmp_path: Path) -> None:
    for words in (("verify",), ("backup", "to"), ("restore", "none", "--data", "new")):
        where = () if "--data" in words else ("--data", "nothing")
        said = called(*words, *where, folder=tmp_path)
        assert (said.returncode, said.stdout) == (1, "")
        assert said.stderr.startswith("There is no database ")
    assert list(tmp_path.iterdir()) == []
