"""`leadline copy`: everything from one database into another, SQLite or PostgreSQL, checked to the last event."""

import time
from typing import TYPE_CHECKING, Annotated

import typer

from app.cli_files import fail
from app.cli_keep import MIGRATIONS, events_words, in_words

if TYPE_CHECKING:
    from app.store.copying import Copied

_FORMS = "sqlite:///PATH, a data folder, or postgresql+psycopg://USER@HOST/NAME"

Source = Annotated[
    str,
    typer.Option("--from", help=f"What to copy: {_FORMS}, or a backup's file.", metavar="PLACE", show_default=False),
]
Target = Annotated[
    str, typer.Option("--to", help=f"Where to: {_FORMS}. It must be empty or new.", metavar="PLACE", show_default=False)
]


def copy(source: Source, target: Target) -> None:
    """Copy everything into an empty database, SQLite or PostgreSQL, and check it there: all or nothing.

    Procedures, runs, their logs with all that was answered, and accounts come along; sessions do not.
    No server may have the data folder that is copied. A PostgreSQL database may be in use: it is copied as it is at one
    moment. A password is best not typed here, where other programs see it: libpq takes PGPASSWORD, or a .pgpass file.
    """
    from app.store.clock import wall_clock
    from app.store.copy_places import copy as make
    from app.store.copy_places import place_of

    began = time.monotonic()
    with in_words("Copy from its last backup.", None):
        here, there = place_of(source), place_of(target)
        if here == there:
            fail("--from and --to name the same place.", 2)
        made = make(here, there, MIGRATIONS, wall_clock())
    print(f"{there} made from {here}: {_counted(made)}, in {time.monotonic() - began:.1f} s")
    for run, (seq, chain) in made.heads.items():
        print(f"Run {run}: {events_words(seq)}, chain whole, head {seq}:{chain}")
    print("Accounts came along, sessions did not: everybody signs in anew.")


def _counted(made: "Copied") -> str:
    rows = made.rows
    people = "1 person" if rows["person"] == 1 else f"{rows['person']} people"
    revisions = f"{rows['revision']} revision{'' if rows['revision'] == 1 else 's'}"
    runs = f"{rows['run']} run{'' if rows['run'] == 1 else 's'}"
    return f"{revisions}, {runs}, {events_words(rows['event'])}, {people}"
