"""Commands that keep the record: verify, backup, restore. A server may be running on the data all the while."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from app.cli_files import fail
from app.cli_store import Data
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
Backup = Annotated[Path, typer.Argument(help="A file that `leadline backup` made.")]

MIGRATIONS = HOME / "migrations"
RESTORE = "Leave it as it is, and restore the last backup into a new folder: leadline restore BACKUP --data NEW."
"""As the store says it too; it is not imported here, for the other commands' sake."""


def verify(run: Which = None, head: Kept = None, data: Data = None) -> None:
    """Walk the chain of a run's log, or of every run's: tells whether anything was changed. It changes nothing."""
    if head is not None and run is None:
        fail("--head is the head of one run's log: say of which, as in `leadline verify 1 --head ...`.", 2)
    from app.store.sound import file_faults, guard_words, lost_guards, run_numbers
    from app.store.verifying import verify as walk

    good = True
    with _in_words(RESTORE), _look(data) as conn:
        for number in run_numbers(conn) if run is None else (run,):
            found = walk(conn, number, head)
            _say(number, found)
            good &= found.ok
        faults = (*file_faults(conn), *guard_words(lost_guards(conn)))
    if faults or not good:
        fail("\n".join([*(f"The database: {fault}." for fault in faults), RESTORE]))


def _say(run: int, found: "Verified") -> None:
    if found.fault is None:
        print(f"Run {run}: {_events(found.events)}, chain whole, head {found.head_words}", flush=True)
        return
    sound = f" Of its events the first {found.events} fit the chain." if found.events else ""
    typer.echo(f"Run {run}: {found.fault}.{sound}", err=True)


def backup(
    to: Annotated[str, typer.Argument(help="File to write, or a folder: then it is named by the time.")],
    data: Data = None,
) -> None:
    """Copy all data into one file, while a server uses them or not, and check the copy to the last event."""
    from app.store.clock import wall_clock
    from app.store.keeping import keep

    if to.endswith("/") and not Path(to).is_dir():
        fail(f"There is no folder {to} to put a backup into. Make it first.", 2)
    with _in_words(RESTORE):
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
    """Make the data folder from a backup, checked before and after. With --run and --to, one run's log ends there."""
    from app.store.clock import wall_clock
    from app.store.refilling import Cut
    from app.store.restoring import restore as make

    if (run is None) != (to is None):
        fail("--run and --to go together: the log of that run ends at that event.", 2)
    cut = None if run is None or to is None else Cut(run, to)
    with _in_words("Take another backup."):
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
        print(f"Run {run}: {_events(each.events)}, head {each.head_words}")


def _counted(found: "Soundness") -> str:
    runs = f"{len(found.runs)} run{'' if len(found.runs) == 1 else 's'}"
    return f"{runs}, {_events(found.events)}"


def _events(number: int) -> str:
    return f"{number} event{'' if number == 1 else 's'}"


@contextmanager
def _look(data: Path | None) -> "Iterator[Connection]":
    from app.store.engine import FILE_NAME
    from app.store.glance import look

    with look((data or default_data()).expanduser() / FILE_NAME, MIGRATIONS) as conn:
        yield conn


@contextmanager
def _in_words(if_damaged: str) -> Iterator[None]:
    """Ends the program with a sentence where it can't go on."""
    from app.store.faults import Damaged, NoSuchRun, NotSafe, StoreFault

    try:
        yield
    except HeadFault as fault:
        fail(f"--head: {fault}.", 2)
    except Damaged as fault:
        fail(f"{fault} {if_damaged}")
    except (NoSuchRun, NotSafe) as fault:
        said = str(fault).removesuffix(".")
        fail(f"{said[:1].upper()}{said[1:]}.")
    except StoreFault as fault:
        fail(str(fault))
    except FileExistsError as error:
        fail(f"{error}, and nothing was written. Take another name.")
    except OSError as error:
        fail(f"{error.filename} can't be used: {error.strerror}. Choose another place.")
