"""`leadline person`: the people with accounts, kept from the command line. The rules are in `service.people`."""

import getpass
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from app.cli_files import fail
from app.cli_store import Data, Database, opened

if TYPE_CHECKING:
    from app.service.people import People

person = typer.Typer(
    help="People with accounts: who may sign in, and what each may do. While a server has the data folder, a keeper "
    "does this on its page /people.",
    no_args_is_help=True,
)

Name = Annotated[str, typer.Argument(help="As it signs the log.")]
May = Annotated[
    str,
    typer.Option(
        help="watch: look. mark: also enter what is called. lead: also decide. train: also rehearse others. "
        "keep: also keep people.",
        metavar="watch|mark|lead|train|keep",
    ),
]


@person.command()
def add(name: Name, may: May, data: Data = None, database: Database = None) -> None:
    """Add somebody. The password is asked for, or read from the first line of the standard input."""
    from app.service.passwords import sound_name
    from app.service.rights import sound_right

    with _people(data, database, make=True) as people:
        sound_name(name)  # Before a password is typed twice for nothing.
        sound_right(may)
        added = people.add(name, may, _password())
        print(f"{added.name} was added, who may {added.may}.")


@person.command("list")
def list_people(data: Data = None, database: Database = None) -> None:
    """Who has an account."""
    with _people(data, database) as people:
        for each in people.everybody():
            print(f"{each.name:40} {each.may:6}{'' if each.enabled else ' disabled'}")
        if people.none:
            print("Nobody has an account.")


@person.command()
def may(
    name: Name,
    right: Annotated[str, typer.Argument(metavar="watch|mark|lead|train|keep")],
    data: Data = None,
    database: Database = None,
) -> None:
    """Let somebody do more or less."""
    _changed(data, database, lambda people: f"{name} may {people.change(name, may=right).may} now.")


@person.command()
def password(name: Name, data: Data = None, database: Database = None) -> None:
    """Give somebody a new password."""
    _changed(data, database, lambda people: f"{people.change(name, password=_password()).name} has a new password.")


@person.command()
def disable(name: Name, data: Data = None, database: Database = None) -> None:
    """Let somebody sign in no more. The account stays, for its name stands in logs."""
    _changed(data, database, lambda people: f"{people.change(name, enabled=False).name} is disabled.")


@person.command()
def enable(name: Name, data: Data = None, database: Database = None) -> None:
    """Let somebody sign in again."""
    _changed(data, database, lambda people: f"{people.change(name, enabled=True).name} may sign in again.")


def _changed(data: Path | None, database: str | None, change: Callable[["People"], str]) -> None:
    with _people(data, database) as people:
        print(change(people))


@contextmanager
def _people(data: Path | None, database: str | None, *, make: bool = False) -> "Iterator[People]":
    """The people of a data folder that no server has."""
    from app.service.people import People
    from app.store.clock import ServerClock

    with opened(
        data, "While it runs, a keeper keeps people on its page /people.", make=make, database=database
    ) as store:
        yield People(store, ServerClock())


def _password() -> str:
    """Typed twice without being shown; from a pipe or file, its first line."""
    if sys.stdin is None:  # Python's word for one that was closed.
        fail("There is no standard input to read the password from; nothing was changed.")
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    said = getpass.getpass("Password, 8 to 64 characters: ")
    if getpass.getpass("Once more: ") != said:
        fail("The two were not the same; nothing was changed.")
    return said
