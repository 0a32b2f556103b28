"""Backups that people ask for: of a data folder that a server may be using, checked to the last event of each run."""

from dataclasses import dataclass
from datetime import datetime
from glob import escape
from pathlib import Path

from app.store.backup import clear_left, copy
from app.store.engine import FILE_NAME, driver
from app.store.faults import NotSafe
from app.store.glance import look
from app.store.opening import driver_needed
from app.store.sound import Soundness, soundness

TIMED = "leadline-????????T??????Z*.sqlite3"
"""The names that `_named` gives."""


@dataclass(frozen=True, slots=True)
class Kept:
    """A backup. `found` is what the check of the copy itself found; a fault in it is in the data folder as well."""

    file: Path
    found: Soundness


def keep(data_dir: Path, to: Path, migrations_dir: Path, now: datetime) -> Kept:
    """Copy the database of a data folder, in use or not, and check the copy.

    A log that does not fit is kept all the same: it is the evidence, and the other runs are worth keeping.

    Args:
        to: a new file, or a folder: then the file is named by the time.

    Raises:
        FileExistsError: there is a file of that name.
        NotSafe: no sound file could be made there; nothing is left of it.
        StoreFault: there is no database, or not one of this Leadline.
    """
    found: list[Soundness] = []

    def check(copied: Path) -> None:
        with look(copied, migrations_dir) as opened:
            found.append(soundness(opened))

    target = _target(to, now)
    with look(data_dir.expanduser() / FILE_NAME, migrations_dir) as source:
        try:
            made = copy(driver(source), target, check)
        except FileExistsError:
            raise
        except OSError as error:
            raise NotSafe(f"{target.parent} can't be written to: {error.strerror}. Choose another place.") from error
    return Kept(made, found[0])


def keep_shared(database: str, to: Path, migrations_dir: Path, now: datetime) -> Kept:
    """The same of a PostgreSQL database: a file of SQLite's is made of it, which `restore` takes.

    What is not sound is not kept: pg_dump keeps it as it is.

    Raises:
        FileExistsError, NotSafe: as for `keep`. StoreFault: the database can't be had, in words.
    """
    with driver_needed():
        from app.store.copy_server import keep as keep_server
        from app.store.postgres_engine import address_of
    target = _target(to, now)
    keep_server(address_of(database), target, migrations_dir)
    with look(target, migrations_dir) as opened:
        return Kept(target, soundness(opened))


def _target(to: Path, now: datetime) -> Path:
    """The new file's name. What copies that were killed have left beside it is removed.

    Raises:
        NotSafe: there is no such folder.
    """
    target = _named(to.expanduser(), now)
    if not target.parent.is_dir():
        raise NotSafe(f"There is no folder {target.parent} to put a backup into. Make it first.")
    clear_left(target.parent, escape(target.name) if target == to.expanduser() else TIMED, now.timestamp())
    return target


def _named(to: Path, now: datetime) -> Path:
    """The file itself; in a folder one that is named by UTC to the second, and is not there yet."""
    if not to.is_dir():
        return to
    stem = f"leadline-{now:%Y%m%dT%H%M%SZ}"
    names = [f"{stem}.sqlite3", *(f"{stem}-{number}.sqlite3" for number in range(2, 1000))]
    free = [name for name in names if not (to / name).exists()]
    if not free:
        raise NotSafe(f"{to} holds a thousand backups of this second.")
    return to / free[0]
