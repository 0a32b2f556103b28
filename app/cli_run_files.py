"""Commands that take runs out of a data folder as files and bring them in, and the plan as a calendar."""

import sys
from io import TextIOWrapper
from pathlib import Path
from typing import Annotated

import typer

from app.cli_files import fail, fault_line, file_bytes, reading_of_file, text_as_stored, write
from app.cli_store import Data, Database, opened
from app.core.commands import Refusal

Run = Annotated[int, typer.Argument(help="Number of the run.", metavar="RUN")]
As = Annotated[str, typer.Option("--as", help="csv, xlsx or xes: as performed; jsonl: to be imported elsewhere.")]
To = Annotated[Path | None, typer.Option(help="File to write. Without it the file is printed.")]
Replace = Annotated[bool, typer.Option("--replace", help="Write over a file that is there already.")]
Zero = Annotated[str, typer.Option(help="When the plan's zero is: RFC 3339, such as 2031-05-04T07:00:00Z.")]


def export(
    run: Run, kind: As, to: To = None, replace: Replace = False, data: Data = None, database: Database = None
) -> None:
    """Write a run as a file: as performed, or whole for another Leadline. No server may be running on the data.

    The head of its log is told on the side: kept elsewhere, it shows whether the log was changed since.
    """
    from app.service.run_files import FILE_KINDS, run_file
    from app.service.runs import Service

    if kind not in FILE_KINDS:
        fail(f"--as {kind}: a run is written as {', '.join(FILE_KINDS[:-1])} or {FILE_KINDS[-1]}.", 2)
    if kind == "xlsx" and to is None:
        fail("A workbook can't be printed. Name the file to write with --to.", 2)
    with opened(data, "Its page of runs has the same files.", make=False, database=database) as store:
        found = run_file(Service(store), run, kind)
    _out(found.data, to, replace)
    print(f"Run {run}, head {found.head}", file=sys.stderr)


def calendar(file: Path, zero: Zero, to: To = None, replace: Replace = False) -> None:
    """Write the plan of a procedure file as a calendar (iCalendar), an event for each task, from a given zero."""
    import hashlib

    from app.core.situation import Prepared
    from app.store.clock import wall_clock
    from app.writing.calendar_file import calendar as made
    from app.writing.calendar_file import read_zero

    reading = reading_of_file(file)
    for fault in reading.faults:
        print(fault_line(file, fault), file=sys.stderr)
    if reading.procedure is None:
        fail(f"{file} can't be loaded.")
    revision = hashlib.sha256(text_as_stored(file, reading).encode()).hexdigest()
    try:
        data = made(Prepared(reading.procedure), revision, read_zero(zero), wall_clock())
    except Refusal as refusal:
        fail(str(refusal), 2)
    _out(data, to, replace)


def import_(
    file: Annotated[Path, typer.Argument(help="A file that `leadline export --as jsonl` made.")],
    data: Data = None,
    database: Database = None,
) -> None:
    """Bring in a run that another Leadline made, as a record: checked to the last link of its chain, and then kept.

    No server may be running on the data; its page of runs takes the same file.
    """
    from app.reading.run_lines import RunFault
    from app.service.run_files import import_run, imported_words
    from app.service.runs import Service

    said = file_bytes(file)
    with opened(data, "Send the file by its page of runs instead.", database=database) as store:
        try:
            found = import_run(Service(store), said, file.name, "the command line")
        except RunFault as fault:
            fail(f"{file}: {fault} Nothing was stored.")
    print(imported_words(found))


def _out(data: bytes, to: Path | None, replace: bool) -> None:
    if to is not None:
        write(to, data, replace)
        return
    if not isinstance(sys.stdout, TextIOWrapper):
        sys.stdout.write(data.decode())
        return
    # As bytes, whatever the terminal's encoding: a chain is over the very signs.
    sys.stdout.flush()
    sys.stdout.buffer.write(data)
    sys.stdout.buffer.flush()
