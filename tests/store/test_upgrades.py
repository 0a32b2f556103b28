"""Upgrades of files as each release left them. `tests.harm.upgrades` does it at length; here is what it rests on."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from app.store.engine import FILE_NAME
from app.store.sqlite_store import SqliteStore
from tests.harm import upgrades
from tests.harm.upgrades import faults_of, kept_rows, killed
from tests.store.making import MIGRATIONS
from tests.store.released import released, told


def test_there_is_a_file_of_every_released_revision() -> None:
    assert released() == tuple(sorted(file.name[1:5] for file in (MIGRATIONS / "versions").glob("v*.py")))


@pytest.mark.parametrize("revision", released())
def test_a_released_file_opens_with_every_row(tmp_path: Path, revision: str) -> None:
    data = told(revision, tmp_path / "data")
    before = kept_rows(data)
    assert {name: len(rows) for name, rows in before.items() if name != "person"} == {
        "revision": 2, "run": 3, "receipt": 59, "event": 64,
    }  # fmt: skip
    with SqliteStore(data, MIGRATIONS) as store:
        assert (store.backup_made is None) == (revision == released()[-1])
    assert kept_rows(data) == before
    assert faults_of(data) == ()


def test_a_change_between_two_looks_would_be_counted(tmp_path: Path) -> None:
    data = told(released()[0], tmp_path / "data")
    before = kept_rows(data)
    with closing(sqlite3.connect(data / FILE_NAME)) as raw:
        raw.execute("DROP TRIGGER event_no_update")
        raw.execute("UPDATE event SET \"by\" = 'Nobody' WHERE run = 1 AND seq = 9")
        raw.commit()
    assert len(set(before["event"]) ^ set(kept_rows(data)["event"])) == 2
    assert any("event 9 was changed" in fault for fault in faults_of(data))


def test_an_upgrade_that_would_lose_people_would_be_found(monkeypatch: pytest.MonkeyPatch) -> None:
    lossy = upgrades._down

    def forgets(data: Path, to: str) -> None:
        lossy(data, to)
        if to != "0001":
            return  # The people are still where they were.
        with closing(sqlite3.connect(data / FILE_NAME)) as raw:
            raw.execute("DELETE FROM person_0002 WHERE name = 'Ben'")
            raw.commit()

    monkeypatch.setattr(upgrades, "_down", forgets)
    found = upgrades.up_down_up()
    assert found["rows changed"] > 0
    assert any("0002 up, down to 0001" in fault for fault in found["broken"])


def test_an_upgrade_killed_before_any_of_its_statements_is_old_or_new_and_whole() -> None:
    found = killed("0001", 0)
    assert found["broken"] == []
    assert found["killed"] == found["statements of an upgrade"] + 1 > 6
    assert found["of these new after it"] >= 1


TWO_HALVES = '''"""Moves the people by way of another table, in two transactions."""
from alembic import op

revision = "{next}"
down_revision = "{newest}"


def upgrade() -> None:
    for said in (
        "CREATE TABLE moved AS SELECT * FROM person", "DELETE FROM session", "DELETE FROM person", "COMMIT", "BEGIN",
        "INSERT INTO person SELECT * FROM moved", "DROP TABLE moved",
    ):
        op.get_bind().exec_driver_sql(said)
'''


def test_an_upgrade_in_two_halves_would_be_found_by_killing_it(tmp_path: Path) -> None:
    newest = released()[-1]
    shutil.copytree(MIGRATIONS, tmp_path / "later", ignore=shutil.ignore_patterns("__pycache__"))
    later = tmp_path / "later" / "versions" / "v9999_later.py"
    later.write_text(TWO_HALVES.format(newest=newest, next="9999"))
    found = killed(newest, 0, tmp_path / "later")
    assert any("rows are not what they were" in fault for fault in found["broken"]), found


def test_the_newest_file_has_the_tables_that_a_new_folder_gets(tmp_path: Path) -> None:
    SqliteStore(tmp_path / "new", MIGRATIONS).close()
    told(released()[-1], tmp_path / "told")
    made = []
    for name in ("new", "told"):
        with closing(sqlite3.connect(tmp_path / name / FILE_NAME)) as raw:
            rows = raw.execute(
                "SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY name"
            ).fetchall()
        made.append([(kind, what, " ".join(sql.split())) for kind, what, sql in rows])
    assert made[0] == made[1]
