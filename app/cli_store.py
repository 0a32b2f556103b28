"""The data folder as the commands open it: its option, and every way in which it can't be had, as a sentence."""

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from app.cli_files import fail
from app.core.commands import Refusal
from app.settings import HOME, default_data

if TYPE_CHECKING:
    from app.store.store import Store


def named(text: str) -> Path:
    """A variable of the shell that is not set would otherwise name the current folder."""
    if not text.strip():
        raise typer.BadParameter("it is empty; name a file or a folder")
    return Path(text)


Data = Annotated[
    Path | None,
    typer.Option(help="Data folder. Default: $LEADLINE_DATA, or ./leadline-data.", parser=named, metavar="DIRECTORY"),
]


@contextmanager
def opened(data: Path | None, in_use: str = "", *, make: bool = True) -> "Iterator[Store]":
    """The store of a folder that no server has. What goes wrong, here or within, ends the command with its sentence.

    `in_use`: what to do instead while a server has it. `make`: a folder that is not there is made.
    """
    from app.store.engine import FILE_NAME
    from app.store.faults import DataInUse, StoreFault
    from app.store.store import Store

    folder = data or default_data()
    if not make and not (folder / FILE_NAME).exists():
        fail(f"There is no database in {folder}. Name its folder with --data.")
    try:
        with Store(folder, HOME / "migrations", "leadline on the command line") as store:
            yield store
    except BrokenPipeError:
        raise  # Whoever read what is printed has gone; the folder is sound.
    except DataInUse as fault:
        fail(f"{fault} {in_use}".rstrip())
    except (StoreFault, Refusal) as fault:
        fail(str(fault))
    except OSError as error:
        fail(no_folder(folder, error))


def no_folder(data: Path, error: OSError) -> str:
    """Why a data folder can't be had, and what to do."""
    at = error.filename or data
    match error.errno:
        case errno.ENOSPC | errno.EDQUOT:
            return f"The disk of {data} is full. Make room on it, then start again."
        case errno.EEXIST | errno.ENOTDIR:
            return f"{data} is a file, or lies below one. Name a folder with --data."
        case errno.EACCES | errno.EPERM | errno.EROFS:
            why = f"{at} may not be written by this account ({error.strerror})."
            return f"{why} Give it the right to, or name another folder with --data."
        case _:
            return f"{data} can't be a data folder: {error.strerror} ({at}). Name another with --data."
