"""What is looked at besides the logs: what the library lists a text under. The triggers are dropped first."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from app.store.engine import FILE_NAME
from app.store.glance import look
from app.store.library import hash_of
from app.store.sound import soundness
from tests.store.making import MIGRATIONS
from tests.store.released import populated


@pytest.fixture
def data() -> Iterator[Path]:
    """The newest release's folder, with two procedures."""
    with populated() as folder:
        yield folder


def faults(data: Path, change: str, values: tuple[str, ...] = ()) -> tuple[str, ...]:
    """Of the file and the runs, after one row of the library was changed."""
    with closing(sqlite3.connect(data / FILE_NAME, isolation_level=None)) as raw:
        guards = raw.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in guards:
            raw.execute(f"DROP TRIGGER {name}")
        assert raw.execute(change, values).rowcount == 1
        for _, said in guards:
            raw.execute(said)
    with look(data / FILE_NAME, MIGRATIONS) as conn:
        return soundness(conn).faults()


@pytest.mark.parametrize("column", ["procedure", "title"])
def test_what_a_text_is_listed_under_is_held_against_it(data: Path, column: str) -> None:
    (found,) = faults(data, f"UPDATE revision SET {column} = 'evil' WHERE procedure = 'mast'")
    assert found == "the revision 19720c31bc29… is listed under another name or title than its text has"


def test_a_time_of_loading_that_is_none_is_found(data: Path) -> None:
    (found,) = faults(data, "UPDATE revision SET loaded_at = 'never' WHERE procedure = 'mast'")
    assert found == "when the revision 19720c31bc29… was loaded was changed: it is no time"


def test_a_text_that_only_an_older_leadline_reads_is_not_held_against_anything(data: Path) -> None:
    text = "procedure: old\n"
    values = (hash_of(text), "old", "Old", text, "old.yaml", "2031-05-04T08:43:20.000Z")
    assert faults(data, "INSERT INTO revision VALUES (?, ?, ?, ?, ?, ?)", values) == ()


def test_what_can_not_be_seen_is_not_seen(data: Path) -> None:
    """README says so: a file's name, an answer in the right form, an account."""
    assert faults(data, "UPDATE revision SET source = 'other.yaml' WHERE procedure = 'mast'") == ()
    assert faults(data, "UPDATE receipt SET answer = '{}' WHERE run = 1 AND first_seq = 2") == ()
    assert faults(data, "UPDATE person SET may = 'keep' WHERE name = (SELECT min(name) FROM person)") == ()
