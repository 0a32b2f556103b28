"""The data directory: made private, and refused where SQLite cannot be trusted. It opens no database."""

import errno
import os
import sys
from pathlib import Path

from app.store.engine import FILE_NAME
from app.store.faults import HalfRestored, NetworkFolder, NoDatabase

STAGE = "leadline.restoring"
"""The folder inside a new data directory in which a restore makes the database; only the finished one gets its name."""

FOLDER_MODE = 0o700
FILE_MODE = 0o600

NETWORK_TYPES = frozenset(
    {"9p", "afs", "beegfs", "ceph", "cifs", "coda", "davfs", "glusterfs", "gpfs", "lustre", "ncp", "ncpfs", "nfs"}
    | {"nfs4", "smb2", "smb3", "smbfs"}
    | {"fuse.ceph", "fuse.davfs2", "fuse.glusterfs", "fuse.rclone", "fuse.s3fs", "fuse.smbnetfs", "fuse.sshfs"}
)
"""Types of file system that reach another machine (from memory of Linux's names; mount(8), fuse(8))."""

_MOUNTS = Path("/proc/mounts")


def prepare(data_dir: Path) -> Path:
    """Make the directory and an empty database file where there are none; private to the account that runs us.

    SQLite gives the files beside the database (-wal, -shm) the mode of the database itself. A directory that already
    holds things that are not ours keeps its mode: it may be somebody's home.

    Returns:
        The directory, absolute.

    Raises:
        NetworkFolder: it lies on a network file system. HalfRestored: a restore into it has not ended.
        NoDatabase: what is there in place of the database is no file.
        OSError: it cannot be made or written.
    """
    folder = _whole(data_dir)
    refuse_network(folder)
    refuse_network((folder / FILE_NAME).resolve())  # It may be a link.
    _refuse_half_restored(folder)
    _refuse_no_file(folder / FILE_NAME)
    folder.mkdir(mode=FOLDER_MODE, parents=True, exist_ok=True)
    file = folder / FILE_NAME
    if file.exists() or not any(folder.iterdir()):
        folder.chmod(FOLDER_MODE)
    make_private(file)
    for beside in (f"{FILE_NAME}-wal", f"{FILE_NAME}-shm"):
        if (folder / beside).exists():
            (folder / beside).chmod(FILE_MODE)
    return folder


def prepare_own(data_dir: Path) -> Path:
    """Make the directory of a server whose database is elsewhere; private if it is empty.

    Raises:
        OSError: it cannot be made.
    """
    folder = _whole(data_dir)
    folder.mkdir(mode=FOLDER_MODE, parents=True, exist_ok=True)
    if not any(folder.iterdir()):
        folder.chmod(FOLDER_MODE)
    return folder


def _refuse_half_restored(folder: Path) -> None:
    """An empty database beside the half made one would be taken for all there is, accounts and all."""
    file = folder / FILE_NAME
    if (folder / STAGE).is_dir() and not (file.exists() and file.stat().st_size):
        raise HalfRestored(
            f"A restore into {folder} has not ended. If it was cut short, run it again: leadline restore BACKUP --data "
            f"{folder}."
        )


def _refuse_no_file(file: Path) -> None:
    """To open a pipe would wait for ever."""
    if file.exists() and not file.is_file():
        raise NoDatabase(f"{file} is not a file. Move it aside, or choose another data directory.")


def _whole(data_dir: Path) -> Path:
    """The path from the root on, ``~`` and links followed.

    Raises:
        OSError: nobody has the home that it names, or its links go in a circle. (pathlib says so by RuntimeError.)
    """
    try:
        home = data_dir.expanduser()
    except RuntimeError:
        raise OSError(errno.ENOENT, os.strerror(errno.ENOENT), str(data_dir)) from None
    try:
        return home.resolve()
    except RuntimeError:
        raise OSError(errno.ELOOP, os.strerror(errno.ELOOP), str(data_dir)) from None


def make_private(file: Path) -> None:
    """Create the file empty if it is not there, readable by nobody else from its first moment."""
    os.close(os.open(file, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, FILE_MODE))
    file.chmod(FILE_MODE)


def replace_private(file: Path, content: bytes) -> None:
    """Write a small file whole or not at all, readable by nobody else from its first moment.

    Raises:
        OSError: it can't be written; what was there before stays.
    """
    partial = file.with_suffix(f"{file.suffix}.partial")
    partial.unlink(missing_ok=True)
    with os.fdopen(os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, FILE_MODE), "wb") as opened:
        os.fchmod(opened.fileno(), FILE_MODE)  # A umask may have left nothing of it.
        opened.write(content)
    partial.rename(file)


def refuse_network(folder: Path, mounts: str | None = None) -> None:
    """Refuse a network file system. Only Linux can be asked; elsewhere nothing is refused.

    Args:
        folder: absolute; need not exist.
        mounts: text in the form of proc(5)'s ``/proc/mounts``; read from there if not given.

    Raises:
        NetworkFolder: names the type, and the remedy.
    """
    if mounts is None:
        if not sys.platform.startswith("linux") or not _MOUNTS.exists():
            return
        mounts = _MOUNTS.read_text(encoding="utf-8", errors="surrogateescape")
    kind = _type_of(folder, mounts)
    if kind in NETWORK_TYPES:
        raise NetworkFolder(
            f"{folder} lies on a network file system ({kind}), where two machines could write the database at once "
            "and damage it. Choose a data directory on a disk of this machine."
        )


def _type_of(folder: Path, mounts: str) -> str:
    """The type of the longest mount point that holds the folder; of two on one point the later one covers."""
    best, kind = -1, ""
    for line in mounts.splitlines():
        _device, point, this_kind = line.split(" ")[:3]
        where = Path(_unescaped(point))
        if folder.is_relative_to(where) and len(where.parts) >= best:
            best, kind = len(where.parts), this_kind
    return kind


def _unescaped(point: str) -> str:
    """getmntent(3): a space, tab, newline and backslash are written as octal escapes."""
    for code, sign in (("\\040", " "), ("\\011", "\t"), ("\\012", "\n"), ("\\134", "\\")):
        point = point.replace(code, sign)
    return point
