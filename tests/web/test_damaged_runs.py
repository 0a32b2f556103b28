"""A run whose log is damaged is said to be, and hides no other run: the control room goes on with those."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from app.store.engine import FILE_NAME
from tests.store.released import released, told
from tests.web.site import Site, words

DAMAGES = (
    "kind = 'StepBlessed'",
    "body = '{'",
    "body = 'null'",
    "body = CAST(x'ff' AS TEXT)",
    "logged_at = 'soon'",
    'kind = \'StepMarked\', body = \'{"ordered_because":null,"step":"nowhere/9","values":[]}\'',
)


def damaged(folder: Path, change: str) -> Path:
    """A released data folder whose run 2 was changed behind Leadline's back. Returns the folder above it."""
    data = told(released()[0], folder / "data")  # Without accounts.
    with closing(sqlite3.connect(data / FILE_NAME, isolation_level=None)) as raw:
        for (name,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            raw.execute(f"DROP TRIGGER {name}")
        assert raw.execute(f"UPDATE event SET {change} WHERE run = 2 AND seq = 4").rowcount == 1
    return folder


@pytest.mark.parametrize("change", DAMAGES)
def test_a_damaged_run_is_a_sentence_and_the_others_are_there(tmp_path: Path, change: str) -> None:
    with Site(damaged(tmp_path, change)) as site:
        for address in ("/runs/2/desk", "/runs/2/log", "/api/runs/2", "/api/runs/2/events", "/runs/2/carried.yaml"):
            answer = site.get(address)
            assert answer.status_code == 503, address
            assert "leadline verify 2" in words(answer.text)
        home = words(site.page("/"))
        assert "Run 2" in home
        assert "what is stored of it is damaged" in home
        assert [run["run"] for run in site.json("/api/runs")] == [3, 1]
        assert site.order(1, "note", reason="The others go on").status_code == 303
        assert site.order(2, "note", reason="This one does not").status_code == 503


def test_a_step_of_the_clock_is_logged_in_the_runs_that_can_be_read(tmp_path: Path) -> None:
    with Site(damaged(tmp_path, DAMAGES[0])) as site:
        site.json("/api/runs/1")
        site.shell.service.watch_clock()  # This run's log is ahead of the set clock; that is said first.
        before = site.json("/api/runs/1")["seq"]
        site.clock.step = site.clock.step.__class__(hours=1)
        assert site.shell.service.watch_clock() == 3_600_000
        assert site.json("/api/runs/1")["seq"] == before + 1
