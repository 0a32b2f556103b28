"""A database where nothing can be put beside it: on a full disk, or one that takes no writing. It changes nothing.

To read a database with a log, SQLite needs a file beside it (-shm). Where that can't be made, the database is read as
it lies, if its log is empty, and else as a copy. Both are sound only while nobody writes: no server has it, and none
can begin meanwhile, for the locks that a server takes are held, shared; and no other program has it open by SQLite, for
then the file that can't be made would be there.
"""

import errno
import fcntl
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from sqlalchemy import Engine

from app.store.engine import looking_engine
from app.store.faults import StoreFailed, StoreFull

ELSEWHERE = "Copy its whole folder to a disk that has room and can be written, and look there."
SHM_BYTES = 32_768
"""The least size of the file beside a database that somebody has open (sqlite.org/walformat.html, 2.1)."""


@contextmanager
def lying(file: Path) -> Iterator[Engine]:
    """An engine that reads the database as it lies, or a copy of it, for as long as the context.

    Raises:
        StoreFailed: somebody has it, or it can't be copied. StoreFull: there is no room for the copy.
    """
    real = file.resolve()
    log, index, journal = (real.with_name(f"{real.name}-{name}") for name in ("wal", "shm", "journal"))
    with ExitStack() as until:
        until.enter_context(_held(file, real))
        if _size(index) >= SHM_BYTES:
            raise _not_held(file, "another program may have it open")
        if _size(journal):
            raise StoreFailed(f"{file} was left half changed, and nothing can be written beside it. {ELSEWHERE}")
        if _size(log):
            yield looking_engine(_copied(file, (real, log), until))
        else:
            yield looking_engine(real, lies=True)


@contextmanager
def _held(file: Path, real: Path) -> Iterator[None]:
    """The locks of `owner.Owner`, which several may share who only look."""
    with ExitStack() as until:
        for each in (real, real.parent):
            opened = os.open(each, os.O_RDONLY | os.O_CLOEXEC)
            until.callback(os.close, opened)
            try:
                fcntl.flock(opened, fcntl.LOCK_SH | fcntl.LOCK_NB)
            except OSError as error:
                why = "a server has it" if error.errno == errno.EWOULDBLOCK else str(error.strerror)
                raise _not_held(file, why) from error
        yield


def _not_held(file: Path, why: str) -> StoreFailed:
    return StoreFailed(
        f"{file} can't be looked at: nothing can be written beside it, and {why}. Make room on its disk, or look from "
        "an account that may write there."
    )


def _size(file: Path) -> int:
    return file.stat().st_size if file.exists() else 0


def _copied(file: Path, files: tuple[Path, Path], until: ExitStack) -> Path:
    """The database and its log in a folder that is gone with `until`; no one else can read it."""
    before = _written(files)
    try:
        folder = Path(until.enter_context(tempfile.TemporaryDirectory(prefix="leadline-look-")))
        for each in files:
            shutil.copyfile(each, folder / each.name)
    except OSError as error:
        # Where all that is full, Python finds no folder for it at all.
        full = error.errno in (errno.ENOSPC, errno.EDQUOT, errno.ENOENT)
        why = "there is no room for it" if full else str(error.strerror)
        raise (StoreFull if full else StoreFailed)(
            f"Nothing can be written beside {file}, and no copy can be made to look at ({why}). {ELSEWHERE}"
        ) from error
    if _written(files) != before:
        raise StoreFailed(f"{file} was written to while it was copied to look at it. Try again.")
    return folder / files[0].name


def _written(files: tuple[Path, Path]) -> list[tuple[int, int]]:
    return [(found.st_size, found.st_mtime_ns) for found in map(Path.stat, files)]
