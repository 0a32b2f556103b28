"""Commands about runs that are stored: what a run leaves for the next outing. It serves nothing."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from app.cli_files import fail, fault_line, reading_of_file, write
from app.cli_store import Data, Database, opened
from app.core.heads import head_of
from app.core.procedure import Procedure

Onto = Annotated[
    Path | None, typer.Option(help="The next outing's own procedure file: the carried work is put at its head.")
]
To = Annotated[Path | None, typer.Option(help="File to write. Without it the YAML text is printed.")]
Replace = Annotated[bool, typer.Option("--replace", help="Write over a file that is there already.")]


def carry(
    run: int, onto: Onto = None, to: To = None, replace: Replace = False, data: Data = None, database: Database = None
) -> None:
    """Make the procedure file for the next outing of what a run left. No server may be running on the data."""
    from app.service.carrying import carried_file
    from app.service.runs import Service

    if to is not None and to.suffix.lower() not in (".yaml", ".yml"):
        fail(f"{to}: the name must end in .yaml. `leadline convert` makes a table of it.", 2)
    following = None if onto is None else _following(onto)
    with opened(data, make=False, database=database) as store:
        service = Service(store)
        found = carried_file(service.situation(run), run, following, head_of(service.run(run).log))
    if to is None:
        print(found.text, end="")
    else:
        write(to, found.text.encode(), replace)


def _following(path: Path) -> Procedure:
    reading = reading_of_file(path)
    for fault in reading.faults:
        print(fault_line(path, fault), file=sys.stderr)
    if reading.procedure is None:
        fail(f"{path} can't be loaded.")
    return reading.procedure
