"""A data folder made from a backup, whole or with one run's log ending at an earlier event. It changes no backup.

Nothing is ever deleted from a record: to end a log earlier, its rows up to there are copied into new tables.
"""

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError

from app.store.backup import copy, folder_to_disk
from app.store.engine import FILE_NAME, driver, is_full
from app.store.faults import NoSuchRun, StoreFault
from app.store.glance import look
from app.store.owner import LOCK_NAME, Owner
from app.store.place import FOLDER_MODE, STAGE, refuse_network
from app.store.refilling import Cut, command_around, last_seq, refill, stepped_ms
from app.store.sound import Soundness, guard_words, soundness
from app.store.verifying import UNREADABLE, inner_words


class CannotRestore(StoreFault):
    """The backup is not sound, the folder is not empty, or the log can't end there. Nothing was made."""


@dataclass(frozen=True, slots=True)
class Restored:
    """A data folder that a server can open.

    Attributes:
        found: what the check of the new database found; it has no fault.
        left_out: the first and last seq of the events that are not in it any more; None where all are.
        stepped_ms: the sum of the wall clock's steps among those: elapsed after them was right by their record.
    """

    folder: Path
    found: Soundness
    left_out: tuple[int, int] | None
    stepped_ms: int


def restore(backup: Path, data_dir: Path, migrations_dir: Path, now: datetime, cut: Cut | None = None) -> Restored:
    """Make a data folder from a backup, which is checked before, as is what was made of it after.

    The people with accounts come along, their sessions do not: everybody signs in anew.

    Args:
        data_dir: an empty folder, or one that is not there yet.
        cut: where one run's log is to end; the other runs are whole.

    Raises:
        CannotRestore: it may not be done; `str()` says why, and what may. StoreFault: `backup` is no sound database.
        OSError: the folder can't be written.
    """
    with look(backup.expanduser(), migrations_dir) as old:
        found = soundness(old)
        _be_sound(old, found, cut)
        left_out, stepped = (None, 0) if cut is None else _left_out(old, cut, found.runs[cut.run].events)
        with new_folder(data_dir, "leadline restore", now) as folder:
            made = _made(old, folder / STAGE, migrations_dir, cut)
            checked = _checked(made, migrations_dir, _wanted(old, found, cut))
            made.rename(folder / FILE_NAME)
            folder_to_disk(folder)
    return Restored(folder, checked, left_out, stepped)


def _be_sound(old: Connection, found: Soundness, cut: Cut | None) -> None:
    """Raises CannotRestore: something is wrong with what would be taken over. New tables have guards of their own."""
    if cut is not None and cut.run not in found.runs:
        raise NoSuchRun(f"There is no run {cut.run} in this backup.")
    if cut is None:
        faults = found.faults()
    else:
        whole = {run: each for run, each in found.runs.items() if run != cut.run or each.events < cut.seq}
        faults = Soundness(whole, found.file).faults()
    if faults:
        raise CannotRestore(f"The backup is not sound: {faults[0]}. Nothing was made. {_instead(old, found, cut)}")


def _instead(old: Connection, found: Soundness, cut: Cut | None) -> str:
    """What may be done where the backup is not sound."""
    bad = [run for run, each in found.runs.items() if each.fault]
    if found.file or len(bad) > 1 or (not bad and not guard_words(found.guards)):
        return "Take an earlier backup."
    run = bad[0] if bad else min(found.runs, default=0)
    try:
        end = _end_at_or_before(old, run, found.runs[run].events) if run else 0
    except UNREADABLE:
        end = 0
    if end < 1 or (cut is not None and cut.run != run):
        return "Take an earlier backup."
    return f"Take an earlier backup, or the sound part of this one: --run {run} --to {end}."


def _end_at_or_before(old: Connection, run: int, seq: int) -> int:
    first, last = command_around(old, run, seq)
    return seq if last == seq else first - 1


def _left_out(old: Connection, cut: Cut, sound: int) -> tuple[tuple[int, int] | None, int]:
    """The events that a cut leaves out, and the clock's steps among those of them that are sound.

    Raises:
        CannotRestore: the log has no such event, or the cut would halve a command.
    """
    last = last_seq(old, cut.run)
    if not 1 <= cut.seq <= last:
        raise CannotRestore(f"Run {cut.run} has events 1 to {last}; it can't end at {cut.seq}. Nothing was made.")
    begun, ended = command_around(old, cut.run, cut.seq)
    if ended != cut.seq:
        before = f"{begun - 1} or " if begun > 1 else ""
        raise CannotRestore(
            f"Events {begun} to {ended} of run {cut.run} are one command, and half of one can't be restored. "
            f"Nothing was made. A command ends at {before}{ended}: choose that with --to."
        )
    return (None if cut.seq == last else (cut.seq + 1, last)), stepped_ms(old, cut, sound)


@contextmanager
def new_folder(data_dir: Path, command: str, now: datetime, option: str = "--data") -> Iterator[Path]:
    """The folder, private and owned by us meanwhile; gone again if it was not there and what is done in it fails.

    Args:
        command: which has it meanwhile, for whoever finds it in use. option: by which the folder was named.

    Raises:
        CannotRestore: it is a file, or not empty. StoreFault, OSError: it can't be had.
    """
    folder = data_dir.expanduser().resolve()
    refuse_network(folder)
    was_there = folder.exists()
    if was_there and not folder.is_dir():
        raise CannotRestore(f"{folder} is a file. Name an empty or a new folder with {option}.")
    folder.mkdir(mode=FOLDER_MODE, parents=True, exist_ok=True)
    _be_empty(folder, option)
    folder.chmod(FOLDER_MODE)
    done = False
    try:
        with Owner(folder, command, now):
            _be_empty(folder, option)
            try:
                yield folder
                done = True
            finally:
                shutil.rmtree(folder / STAGE, ignore_errors=True)
    finally:
        if not done:
            (folder / LOCK_NAME).unlink(missing_ok=True)
            if not was_there:
                folder.rmdir()


def _be_empty(folder: Path, option: str) -> None:
    """Raises CannotRestore: something is in the folder besides what a restore that was cut short leaves."""
    found = sorted(each.name for each in folder.iterdir() if each.name not in (LOCK_NAME, STAGE))
    if not found:
        return
    what = "a database" if FILE_NAME in found else f"other things ({found[0][:60]})"
    raise CannotRestore(
        f"{folder} holds {what} already, and nothing in it was touched. Name an empty or a new folder with {option}; "
        "to have it under this name, move the old one aside first."
    )


def _made(old: Connection, stage: Path, migrations_dir: Path, cut: Cut | None) -> Path:
    shutil.rmtree(stage, ignore_errors=True)
    stage.mkdir(mode=FOLDER_MODE)
    try:
        if cut is None:
            return copy(driver(old), stage / FILE_NAME, _without_sessions)
        return refill(old, stage, migrations_dir, cut)
    except (DBAPIError, sqlite3.Error) as error:
        why = "there is no room on that disk" if is_full(error) else inner_words(error)
        raise CannotRestore(f"The database could not be made: {why}. Nothing of it was kept.") from error


def _without_sessions(file: Path) -> None:
    with closing(sqlite3.connect(file, isolation_level=None)) as made:
        made.execute("PRAGMA secure_delete=ON")  # Not even their traces: a data folder is handed on.
        if made.execute("SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'session'").fetchone():
            made.execute("DELETE FROM session")


def _wanted(old: Connection, found: Soundness, cut: Cut | None) -> dict[int, tuple[int, str]]:
    """The head that each run must have in the new database."""
    heads = {run: (each.events, each.head) for run, each in found.runs.items()}
    if cut is not None:
        chain = "SELECT chain FROM event WHERE run = ? AND seq = ?"
        heads[cut.run] = (cut.seq, str(old.exec_driver_sql(chain, (cut.run, cut.seq)).scalar_one()))
    return heads


def _checked(made: Path, migrations_dir: Path, wanted: dict[int, tuple[int, str]]) -> Soundness:
    with look(made, migrations_dir) as opened:
        found = soundness(opened)
    heads = {run: (each.events, each.head) for run, each in found.runs.items()}
    faults = found.faults() if heads == wanted else ("its logs do not end where those of the backup do",)
    if faults:
        raise CannotRestore(f"What was made is not sound: {faults[0]}. Nothing of it was kept.")
    return found
