"""Where a copy comes from and goes to: a data folder, a backup's file, a PostgreSQL database. It copies no row."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import URL, Connection, make_url
from sqlalchemy.exc import ArgumentError

from app.store import copying
from app.store.backup import folder_to_disk
from app.store.copying import CannotCopy, Copied
from app.store.engine import FILE_NAME
from app.store.glance import look
from app.store.opening import driver_needed
from app.store.owner import Owner
from app.store.place import FOLDER_MODE, STAGE, replace_private
from app.store.restoring import new_folder
from app.store.secret import SECRET_NAME


@dataclass(frozen=True, slots=True)
class Folder:
    """A data folder."""

    path: Path

    def __str__(self) -> str:
        return str(self.path)


@dataclass(frozen=True, slots=True)
class Backup:
    """One file that `leadline backup` made."""

    file: Path

    def __str__(self) -> str:
        return str(self.file)


@dataclass(frozen=True, slots=True)
class Server:
    """A database of a PostgreSQL server. It is shown without its password."""

    url: URL

    def __str__(self) -> str:
        return self.url.set(query={}).render_as_string(hide_password=True)


Place = Folder | Backup | Server


@dataclass(frozen=True, slots=True)
class Source:
    """What a copy is made of. `secret`: the 32 bytes that pages which are open now were given; None in a backup."""

    conn: Connection
    secret: bytes | None


def place_of(said: str) -> Place:
    """Read ``sqlite:///PATH``, ``postgresql+psycopg://...`` or a path; a file of the database's own name is its folder.

    Raises:
        CannotCopy: it is none of these.
    """
    path = said
    if "://" in said:
        try:
            url = make_url(said)
        except (ArgumentError, ValueError):
            raise CannotCopy("That is no address of a database. Write postgresql+psycopg://USER@HOST/NAME.") from None
        if url.drivername in ("postgresql", "postgresql+psycopg") and url.database:
            return Server(url.set(drivername="postgresql+psycopg"))
        if url.drivername != "sqlite" or not url.database or url.host:
            raise CannotCopy(
                f"{url.drivername}:// is not known here. Write postgresql+psycopg://... or sqlite:///PATH."
            )
        path = url.database
    at = Path(path).expanduser()
    if at.name == FILE_NAME:
        return Folder(at.parent)
    return Backup(at) if at.is_file() else Folder(at)


def copy(source: Place, target: Place, migrations_dir: Path, now: datetime) -> Copied:
    """Copy everything from one place to another that is empty or new, and check it there.

    Raises:
        CannotCopy: it may not be done, or what was copied is not sound; nothing is there.
        StoreFault: one of the two can't be had; in words. OSError: a folder can't be read or written.
    """
    if isinstance(target, Backup):
        raise CannotCopy(f"{target} is a file. Name a folder, empty or new; `leadline backup` writes one file.")
    with copying.refusals(), _source(source, migrations_dir, now) as found:
        copying.be_newest(found.conn, migrations_dir)
        if isinstance(target, Folder):
            return _into_folder(found, target.path, migrations_dir, now)
        return _into_server(found, target.url, migrations_dir)


@contextmanager
def _source(place: Place, migrations_dir: Path, now: datetime) -> Iterator[Source]:
    match place:
        case Backup(file):
            with look(file, migrations_dir) as conn:
                yield Source(conn, None)
        case Folder(path):
            with look(path / FILE_NAME, migrations_dir):  # Before a lock is written into what is no data folder.
                pass
            with Owner(path, "leadline copy", now), look(path / FILE_NAME, migrations_dir) as conn:
                yield Source(conn, _secret_in(path))
        case Server(url):
            with driver_needed():
                from app.store.copy_server import one_moment, secret_in
            with one_moment(url) as conn:
                copying.be_newest(conn, migrations_dir)
                yield Source(conn, secret_in(conn))


def _secret_in(folder: Path) -> bytes | None:
    file = folder / SECRET_NAME
    return file.read_bytes() if file.exists() else None


def _into_folder(source: Source, path: Path, migrations_dir: Path, now: datetime) -> Copied:
    with new_folder(path, "leadline copy", now, "--to") as folder:
        stage = folder / STAGE
        shutil.rmtree(stage, ignore_errors=True)
        stage.mkdir(mode=FOLDER_MODE)
        copied = copying.to_file(source.conn, stage / FILE_NAME, migrations_dir)
        (stage / FILE_NAME).rename(folder / FILE_NAME)
        folder_to_disk(folder)
        if source.secret:
            replace_private(folder / SECRET_NAME, source.secret)
    return copied


def _into_server(source: Source, url: URL, migrations_dir: Path) -> Copied:
    with driver_needed():
        from app.store.copy_server import nobody_else
    with nobody_else(url, migrations_dir, source.secret) as target:
        return copying.fill(source.conn, target)
