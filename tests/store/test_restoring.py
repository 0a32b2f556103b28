"""A restored folder is what the backup holds, whole or to an event; what can't be restored is refused in words."""

import sqlite3
import stat
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from app.core.commands import AddNote
from app.core.events import canonical
from app.core.fold import fold
from app.service.runs import Service
from app.store import journal, refilling, restoring
from app.store.engine import FILE_NAME
from app.store.faults import DataInUse, NoSuchRun
from app.store.owner import Owner
from app.store.place import STAGE
from app.store.refilling import Cut
from app.store.restoring import CannotRestore, Restored
from app.store.sqlite_store import SqliteStore
from app.store.verifying import verify
from tests.service.making import SetClock, sender
from tests.store.loosening import loosened
from tests.store.making import MIGRATIONS, a_run, append
from tests.store.released import populated, released, rows_of, told

NOW = datetime(2031, 5, 4, 12, 0, tzinfo=UTC)
ENDS = {1: 52, 2: 10, 3: 2}
"""The last seq of each run of a released file."""
HALVES = {2: (6, 7)}
"""The events of run 2 that are one command."""


@pytest.fixture
def backup() -> Iterator[Path]:
    """A released file: three runs, accounts, a session."""
    with populated() as data:
        yield data / FILE_NAME


def restored(backup: Path, to: Path, run: int | None = None, seq: int = 0) -> Restored:
    return restoring.restore(backup, to, MIGRATIONS, NOW, None if run is None else Cut(run, seq))


@pytest.mark.parametrize("revision", released())
def test_a_whole_restore_has_every_row_and_no_session(tmp_path: Path, revision: str) -> None:
    file = told(revision, tmp_path / "old") / FILE_NAME
    made = restored(file, tmp_path / "new")
    assert rows_of(made.folder / FILE_NAME) == rows_of(file)
    assert (made.left_out, made.stepped_ms, made.found.faults()) == (None, 0, ())
    assert {run: found.events for run, found in made.found.runs.items()} == ENDS
    assert sorted(each.name for each in made.folder.iterdir()) == ["leadline.lock", FILE_NAME]
    assert stat.S_IMODE(made.folder.stat().st_mode) == 0o700
    assert stat.S_IMODE((made.folder / FILE_NAME).stat().st_mode) == 0o600
    with SqliteStore(made.folder, MIGRATIONS) as store:
        assert append(store, 1, "a new key")[0].seq == ENDS[1] + 1
        assert store.read(lambda conn: verify(conn, 1)).fault is None


def test_accounts_come_along_and_sessions_do_not_even_as_traces(tmp_path: Path, backup: Path) -> None:
    sessions, people = rows_of(backup, ("session", "person")).values()
    assert (len(sessions), len(people)) == (1, 2)
    token = str(sessions[0][0]).encode()
    assert token in backup.read_bytes()
    for name, cut in (("whole", (None, 0)), ("cut", (1, 20))):
        file = restored(backup, tmp_path / name, *cut).folder / FILE_NAME
        assert rows_of(file, ("session", "person")) == {"session": [], "person": people}
        assert token not in file.read_bytes()


def test_people_that_an_older_release_keeps_aside_come_along(tmp_path: Path, backup: Path) -> None:
    with closing(sqlite3.connect(backup)) as raw:
        raw.executescript("DROP TABLE kept; DROP TABLE origin; DROP INDEX ix_event_by; "
                          "DROP TABLE session; ALTER TABLE person RENAME TO person_0002; "
                          "UPDATE alembic_version SET version_num = '0001'")  # fmt: skip
    for name, cut in (("whole", (None, 0)), ("cut", (1, 20))):
        folder = restored(backup, tmp_path / name, *cut).folder
        assert rows_of(folder / FILE_NAME, ("person_0002",)) == rows_of(backup, ("person_0002",))
        with SqliteStore(folder, MIGRATIONS) as store:
            assert store.read(lambda conn: conn.exec_driver_sql("SELECT count(*) FROM person").scalar()) == 2


@pytest.mark.parametrize("run", ENDS)
def test_a_log_restored_to_any_event_is_the_log_up_to_there(tmp_path: Path, backup: Path, run: int) -> None:
    whole = rows_of(backup)
    with SqliteStore(restored(backup, tmp_path / "whole").folder, MIGRATIONS) as store:
        log = store.read(lambda conn: journal.read(conn, run))
    for seq in range(1, ENDS[run] + 1):
        if log[seq - 1].key == (log[seq].key if seq < len(log) else ""):
            with pytest.raises(CannotRestore, match="one command"):
                restored(backup, tmp_path / str(seq), run, seq)
            assert not (tmp_path / str(seq)).exists()
            continue
        made = restored(backup, tmp_path / str(seq), run, seq)
        assert made.left_out == (None if seq == ENDS[run] else (seq + 1, ENDS[run]))
        found = made.found.runs[run]
        assert (found.events, found.head) == (seq, log[seq - 1].chain)
        rows = rows_of(made.folder / FILE_NAME)
        keys = {one.key for one in log[:seq]}
        assert rows["event"] == [row for row in whole["event"] if row[0] != run or int(str(row[1])) <= seq]
        assert rows["receipt"] == [row for row in whole["receipt"] if row[0] != run or row[1] in keys]
        assert (rows["run"], rows["revision"]) == (whole["run"], whole["revision"])


@pytest.mark.parametrize(("run", "seq"), [(1, 1), (1, 30), (2, 5), (2, 9), (3, 1)])
def test_a_run_restored_to_an_event_is_carried_on(tmp_path: Path, backup: Path, run: int, seq: int) -> None:
    with SqliteStore(restored(backup, tmp_path / "whole").folder, MIGRATIONS) as store:
        log = store.read(lambda conn: journal.read(conn, run))
        left_out = {one.key for one in log[seq:]}
    with SqliteStore(restored(backup, tmp_path / "new", run, seq).folder, MIGRATIONS) as store:
        service = Service(store, SetClock(20_000).server())
        assert service.run(run).state == fold(log[:seq])
        outcome = service.order(run, AddNote("carried on", None, None), sender()).result()
        assert outcome.seq == seq + 1
        # A station whose press was left out sends it again: it is new here.
        again = service.order(run, AddNote("again", None, None), sender(max(left_out))).result()
        assert (again.seq, again.repeated) == (seq + 2, False)
        found = store.read(lambda conn: verify(conn, run, f"{seq}:{log[seq - 1].chain}"))
        assert (found.fault, found.kept_at) == (None, seq)
        kept_later = store.read(lambda conn: verify(conn, run, f"{len(log)}:{log[-1].chain}")).fault
        assert kept_later is not None


def test_append_only_tables_stand_in_what_was_restored(tmp_path: Path, backup: Path) -> None:
    loosened(backup)
    with closing(sqlite3.connect(backup)) as raw:
        raw.execute("DROP TRIGGER event_no_delete")
    with pytest.raises(CannotRestore, match=r"guards .* Take an earlier backup, or .*: --run 1 --to 52\."):
        restored(backup, tmp_path / "new")
    made = restored(backup, tmp_path / "new", 1, 52)
    with closing(sqlite3.connect(made.folder / FILE_NAME)) as raw, pytest.raises(sqlite3.IntegrityError):
        raw.execute("DELETE FROM event")


def test_half_a_command_is_refused_and_the_nearest_ends_are_named(tmp_path: Path, backup: Path) -> None:
    first, last = HALVES[2]
    with pytest.raises(CannotRestore, match=f"Events {first} to {last} .* ends at {first - 1} or {last}: choose"):
        restored(backup, tmp_path / "new", 2, first)
    for seq in (first - 1, last):
        assert restored(backup, tmp_path / str(seq), 2, seq).found.runs[2].events == seq


@pytest.mark.parametrize("seq", [0, -1, 11, 2**40, 2**70])
def test_an_event_that_is_not_there_is_refused(tmp_path: Path, backup: Path, seq: int) -> None:
    with pytest.raises(CannotRestore, match=f"Run 2 has events 1 to 10; it can't end at {seq}"):
        restored(backup, tmp_path / "new", 2, seq)
    with pytest.raises(NoSuchRun):
        restored(backup, tmp_path / "new", 4, 1)
    assert not (tmp_path / "new").exists()


def test_a_tail_that_is_not_sound_can_be_left_behind(tmp_path: Path, backup: Path) -> None:
    loosened(backup, "UPDATE event SET at_s = at_s + 1 WHERE run = 2 AND seq = 7")
    with pytest.raises(CannotRestore, match=r"Run 2: event 7 was changed.* --run 2 --to 5\."):
        restored(backup, tmp_path / "new")
    for run, seq in ((2, 7), (2, 10), (1, 5)):
        with pytest.raises(CannotRestore, match="Run 2: event 7 was changed"):
            restored(backup, tmp_path / "new", run, seq)
    assert restored(backup, tmp_path / "new", 2, 5).found.faults() == ()


def test_answers_without_events_go_with_the_log_that_they_were_given_on(tmp_path: Path, backup: Path) -> None:
    row = "SELECT 2, '{key}', sent, NULL, NULL, '{answer}' FROM receipt LIMIT 1"
    for key, answer in (("early", {"seq": 3}), ("late", {"seq": 9}), ("plain", "stored")):
        loosened(backup, f"INSERT INTO receipt {row.format(key=key, answer=canonical(answer))}")
    file = restored(backup, tmp_path / "new", 2, 5).folder / FILE_NAME
    keys = {str(key) for _, key, *_ in rows_of(file)["receipt"]}
    assert keys & {"early", "late", "plain"} == {"early", "plain"}


def test_steps_of_the_clock_that_are_left_out_are_told(tmp_path: Path, backup: Path) -> None:
    with SqliteStore(restored(backup, tmp_path / "whole").folder, MIGRATIONS) as store:
        log = store.read(lambda conn: journal.read(conn, 2))
    (step,) = [one.seq for one in log if type(one.event).__name__ == "ClockStepped"]
    assert restored(backup, tmp_path / "before", 2, step - 1).stepped_ms == 3_600_000
    assert restored(backup, tmp_path / "after", 2, step).stepped_ms == 0


def test_only_an_empty_or_a_new_folder_is_taken(tmp_path: Path, backup: Path) -> None:
    used, other, file, empty = (tmp_path / name for name in ("used", "other", "file", "empty"))
    with SqliteStore(used, MIGRATIONS) as store:
        a_run(store)
    other.mkdir()
    (other / "letter").write_text("mine")
    file.write_text("mine")
    before = (used / FILE_NAME).read_bytes()
    for folder, sentence in ((used, "holds a database"), (other, r"other things \(letter\)"), (file, "is a file")):
        with pytest.raises(CannotRestore, match=sentence):
            restored(backup, folder)
    assert (used / FILE_NAME).read_bytes() == before
    assert [each.name for each in other.iterdir()] == ["letter"]
    empty.mkdir(mode=0o755)
    assert restored(backup, empty).folder == empty
    assert stat.S_IMODE(empty.stat().st_mode) == 0o700
    assert restored(backup, tmp_path / "deep" / "er").found.faults() == ()


def test_a_restore_that_was_cut_short_can_be_done_again(tmp_path: Path, backup: Path) -> None:
    new = tmp_path / "new"
    (new / STAGE).mkdir(parents=True)
    (new / STAGE / FILE_NAME).write_text("half")
    (new / "leadline.lock").touch()
    assert restored(backup, new).found.faults() == ()
    assert sorted(each.name for each in new.iterdir()) == ["leadline.lock", FILE_NAME]


def test_nobody_else_uses_the_folder_meanwhile(tmp_path: Path, backup: Path) -> None:
    new = tmp_path / "new"
    new.mkdir()
    with Owner(new, "another", NOW), pytest.raises(DataInUse, match="in use by another Leadline"):
        restored(backup, new)


def test_a_restore_that_fails_leaves_nothing(tmp_path: Path, backup: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object) -> None:
        raise sqlite3.OperationalError("disk I/O error")

    for name, cut in (("copy", (None, 0)), ("refill", (1, 3))):
        with monkeypatch.context() as patch:
            patch.setattr(restoring, name, fails)
            with pytest.raises(CannotRestore, match="disk I/O error"):
                restored(backup, tmp_path / "new", *cut)
        assert not (tmp_path / "new").exists()


def test_what_was_made_is_held_against_the_backup(
    tmp_path: Path, backup: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A copy that lost its end, with receipts and all, would verify by itself."""
    lossy = {"event": "(run <> :run OR seq <= :seq) AND NOT (run = 1 AND seq = 52)"}
    lossy["receipt"] = "last_seq IS NULL OR NOT (run = 1 AND last_seq = 52)"
    for table, kept in lossy.items():
        monkeypatch.setitem(refilling._KEPT, table, kept)
    with pytest.raises(CannotRestore, match="do not end where those of the backup do"):
        restored(backup, tmp_path / "new", 3, 2)
    assert not (tmp_path / "new").exists()
