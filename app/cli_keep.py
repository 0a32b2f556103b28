"""Commands that keep the record: verify, backup, restore. A server may be running on the data all the while."""

import errno
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from app.cli_files import fail, leave
from app.cli_store import Data, Database, chosen_database, named
from app.core.heads import HeadFault
from app.settings import HOME, default_data

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from app.store.sound import Soundness
    from app.store.verifying import Verified

Which = Annotated[int | None, typer.Argument(help="Number of the run; every run if left out.", metavar="[RUN]")]
Kept = Annotated[
    str | None,
    typer.Option(
        "--head",
        help="A head kept elsewhere, SEQ:HASH as every export prints it, or the first 12 signs of its hash or more: "
        "finds a log that was cut off or made anew.",
    ),
]
Backup = Annotated[Path, typer.Argument(help="A file that `leadline backup` made.", parser=named, metavar="BACKUP")]


def _place(text: str) -> str:
    """As it was typed: a stroke at its end says that it is a folder."""
    named(text)
    return text


To = Annotated[
    str,
    typer.Argument(help="File to write, or a folder: then it is named by the time.", parser=_place, metavar="TO"),
]

MIGRATIONS = HOME / "migrations"
RESTORE = "Leave it as it is, and restore the last backup into a new folder: leadline restore BACKUP --data NEW."
"""As the store says it too; it is not imported here, for the other commands' sake."""


def verify(run: Which = None, head: Kept = None, data: Data = None, database: Database = None) -> None:
    """Walk the chain of a run's log, or of every run's: tells whether an event was changed. It changes nothing.

    Without --head it can't see that a log's end was cut off, or a log made anew.
    It never sees whether the answer kept of an order is the one that was given,
    what a procedure's file was called, or who was given an account.
    """
    if head is not None and run is None:
        fail("--head is the head of one run's log: say of which, as in `leadline verify 1 --head ...`.", 2)
    from app.store.sound import file_faults, guard_words, lost_guards, run_numbers
    from app.store.verifying import verify as walk

    good = True
    with in_words(RESTORE, data), _look(data, database) as conn:
        numbers = run_numbers(conn) if run is None else (run,)
        for number in numbers:
            found = walk(conn, number, head)
            _say(number, found)
            good &= found.ok
        faults = (*file_faults(conn), *guard_words(lost_guards(conn)))
    if not numbers:
        print("There are no runs.", flush=True)
    if faults or not good:
        fail("\n".join([*(f"The database: {fault}." for fault in faults), RESTORE]))


def _say(run: int, found: "Verified") -> None:
    if found.fault is None:
        print(f"Run {run}: {events_words(found.events)}, chain whole, head {found.head_words}", flush=True)
        return
    sound = f" Of its events the first {found.events} fit the chain." if found.events else ""
    typer.echo(f"Run {run}: {found.fault}.{sound}", err=True)


def backup(to: To, data: Data = None, database: Database = None) -> None:
    """Copy all data into one file, while servers use them or not, and check the copy to the last event.

    Of a PostgreSQL database too: `restore` and `copy` take the file. It is not what replaces pg_dump.
    """
    from app.store.clock import wall_clock
    from app.store.keeping import keep, keep_shared

    if to.endswith("/") and not Path(to).is_dir():
        fail(f"There is no folder {to} to put a backup into. Make it first.", 2)
    with in_words(RESTORE, data):
        if address := chosen_database(database):
            kept = keep_shared(address, Path(to), MIGRATIONS, wall_clock())
        else:
            kept = keep(data or default_data(), Path(to), MIGRATIONS, wall_clock())
    print(f"{kept.file}: {_counted(kept.found)}")
    _heads(kept.found)
    if faults := kept.found.faults():
        told = "\n".join(f"{fault}." for fault in faults)
        fail(f"It was copied as it is, but what it holds is not sound, in the data folder too:\n{told}")


def restore(
    file: Backup,
    data: Data = None,
    run: Annotated[int | None, typer.Option(help="With --to: the run whose log is to end earlier.", min=1)] = None,
    to: Annotated[int | None, typer.Option(help="With --run: the event (its seq) that is to be the last.")] = None,
) -> None:
    """Make the data folder from a backup, checked before and after. With --run and --to, one run's log ends there.

    To have it in a PostgreSQL database, copy the folder, or the backup as it is: leadline copy --from ... --to ...
    """
    from app.store.clock import wall_clock
    from app.store.refilling import Cut
    from app.store.restoring import restore as make

    if (run is None) != (to is None):
        fail("--run and --to go together: the log of that run ends at that event.", 2)
    cut = None if run is None or to is None else Cut(run, to)
    with in_words("Take another backup.", data):
        made = make(file, data or default_data(), MIGRATIONS, wall_clock(), cut)
    print(f"{made.folder} made from {file}: {_counted(made.found)}")
    _heads(made.found)
    if made.left_out is not None:
        first, last = made.left_out
        what = f"event {first}" if first == last else f"events {first} to {last}"
        print(f"Left out of run {run}: {what}. They are in the backup still.")
    if made.stepped_ms:
        print(
            f"Among them were steps of this machine's clock, {made.stepped_ms / 1000:+g} s in all: if its clock is as "
            "it was after them, elapsed of that run is off by as much."
        )
    print("Accounts came along, sessions did not: everybody signs in anew.")


def _heads(found: "Soundness") -> None:
    for run, each in found.runs.items():
        print(f"Run {run}: {events_words(each.events)}, head {each.head_words}")


def _counted(found: "Soundness") -> str:
    runs = f"{len(found.runs)} run{'' if len(found.runs) == 1 else 's'}"
    return f"{runs}, {events_words(found.events)}"


def events_words(number: int) -> str:
    return f"{number} event{'' if number == 1 else 's'}"


@contextmanager
def _look(data: Path | None, database: str | None) -> "Iterator[Connection]":
    from app.store.engine import FILE_NAME
    from app.store.glance import look
    from app.store.opening import looked_at

    if address := chosen_database(database):
        with looked_at(address, MIGRATIONS) as conn:
            yield conn
        return
    with look((data or default_data()).expanduser() / FILE_NAME, MIGRATIONS) as conn:
        yield conn


@contextmanager
def in_words(if_damaged: str, data: Path | None) -> Iterator[None]:
    """Ends the program with a sentence where it can't go on; a signal that ends it lets it clear up first."""
    from app.store.faults import Damaged, NoSuchRun, NotSafe, StoreFault

    try:
        with _leaving():
            yield
    except HeadFault as fault:
        fail(f"--head: {fault}.", 2)
    except Damaged as fault:
        fail(f"{fault} {if_damaged}")
    except NoSuchRun as fault:
        fail(f"T{str(fault).removesuffix('.')[1:]}.")  # There is none.
    except NotSafe as fault:
        fail(f"{str(fault).removesuffix('.')}.")
    except StoreFault as fault:
        fail(str(fault))
    except FileExistsError as error:
        fail(f"{error}, and nothing was written. Take another name.")
    except OSError as error:
        fail(_unusable(error.filename or data or default_data(), error))


@contextmanager
def _leaving() -> Iterator[None]:
    """At SIGTERM, and SIGHUP unless it is ignored to outlive a terminal, `leave`."""
    before = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGHUP)}
    for number, handler in before.items():
        if handler == signal.SIG_DFL:
            signal.signal(number, leave)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _unusable(place: str | Path, error: OSError) -> str:
    match error.errno:
        case errno.ENOSPC | errno.EDQUOT:
            return f"The disk of {place} is full. Make room on it, or choose another place."
        case errno.EACCES | errno.EPERM:
            return (
                f"{place} is not open to this account ({error.strerror}). Take one that may use it, or another place."
            )
        case _:
            return f"{place} can't be used: {error.strerror}. Choose another place."
