"""The data folder as the commands open it: its option, and every way in which it can't be had, as a sentence."""

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from app.cli_files import fail
from app.core.commands import Refusal
from app.settings import HOME, default_data, default_database

if TYPE_CHECKING:
    from app.store.store import Store


def named(text: str) -> Path:
    """A variable of the shell that is not set would otherwise name the current folder."""
    if not text.strip():
        raise typer.BadParameter("it is empty; name a file or a folder")
    return Path(text)


def named_database(text: str) -> str:
    """The same of a database: SQLite instead of it would be another record."""
    if not text.strip():
        raise typer.BadParameter("it is empty; give the address of a database")
    return text


Data = Annotated[
    Path | None,
    typer.Option(help="Data folder. Default: $LEADLINE_DATA, or ./leadline-data.", parser=named, metavar="DIRECTORY"),
]
DemoData = Annotated[
    Path | None,
    typer.Option(
        "--data", help="Data folder. Default: one that is gone afterwards.", parser=named, metavar="DIRECTORY"
    ),
]
SQLITE = "sqlite"
"""What `--database` is where the data are in the folder after all, whatever the variable says."""

Database = Annotated[
    str | None,
    typer.Option(
        help="postgresql+psycopg://ROLE@HOST/DATABASE, which several servers may share. "
        f"Default: $LEADLINE_DATABASE, or {SQLITE}, which is a file in the data folder.",
        parser=named_database,
        metavar="URL",
    ),
]


def chosen_database(said: str | None) -> str | None:
    """The address of a PostgreSQL database, as it was said or by the variable; None for SQLite in the data folder."""
    found = said or default_database()
    return None if found == SQLITE else found


@contextmanager
def opened(data: Path | None, in_use: str = "", *, make: bool = True, database: str | None = None) -> "Iterator[Store]":
    """The store of a folder that no server has, or of a PostgreSQL database, which servers may have. What goes wrong,
    here or within, ends the command with its sentence.

    `in_use`: what to do instead while a server has it. `make`: a folder that is not there is made. `database`: as it
    was said.
    """
    from app.store.engine import FILE_NAME
    from app.store.faults import DataInUse, StoreFault
    from app.store.opening import open_store, visited

    folder, address = data or default_data(), chosen_database(database)
    if address is None and not make and not (folder / FILE_NAME).exists():
        fail(f"There is no database in {folder}. Name its folder with --data.")
    try:
        if address is not None:
            with visited(address, HOME / "migrations") as store:
                yield store
            return
        with open_store(folder, HOME / "migrations", "leadline on the command line") as store:
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
