"""Files of the command line: read with every fault told, turned from one kind into another, and the template.

It knows no run and no server.
"""

import codecs
import os
import sys
from io import TextIOWrapper
from pathlib import Path
from types import FrameType
from typing import Annotated, NoReturn, get_args

import typer

from app.reading.faults import PlacedFault
from app.reading.files import Kind, kind_of, read_file
from app.reading.opened import beginning
from app.reading.procedure_reader import Reading

Out = Annotated[Path, typer.Option(help="File to write: .yaml, .csv or .xlsx.")]
Replace = Annotated[bool, typer.Option("--replace", help="Write over a file that is there already.")]


def fail(sentence: str, code: int = 1) -> NoReturn:
    print(sentence, file=sys.stderr)
    raise SystemExit(code)


def say(sentence: str) -> None:
    """Print at once, for a server: it serves on though nobody can read what it says."""
    try:
        print(sentence, flush=True)
    except OSError:
        mute()


def _escaped(error: UnicodeError) -> tuple[str | bytes, int]:
    """What the terminal has no sign for, as JSON and people take it: \\u00fc."""
    assert isinstance(error, UnicodeEncodeError)
    units = error.object[error.start : error.end].encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[at : at + 2].hex()}" for at in range(0, len(units), 2)), error.end


def _escaped_but_names(error: UnicodeError) -> tuple[str | bytes, int]:
    """The same, but bytes of a file's name that are no text stay what they are, as Python has it in a plain locale."""
    assert isinstance(error, UnicodeEncodeError)
    first = error.object[error.start]
    if "\udc80" <= first <= "\udcff":
        return bytes([ord(first) - 0xDC00]), error.start + 1
    return _escaped(UnicodeEncodeError(error.encoding, error.object, error.start, error.start + 1, error.reason))


def escape_unknown_signs() -> None:
    """Print what can be printed, whatever the terminal's encoding; it would end in a traceback."""
    codecs.register_error("leadline-escaped", _escaped)
    codecs.register_error("leadline-escaped-but-names", _escaped_but_names)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            kept = "-but-names" if stream.errors == "surrogateescape" else ""
            stream.reconfigure(errors=f"leadline-escaped{kept}")


def leave(number: int, _frame: FrameType | None) -> NoReturn:
    """At a signal: end as `exit` does, so that what is half made is cleared away."""
    raise SystemExit(128 + number)


def mute() -> None:
    """Let what is printed from now on, and what waits to be, go nowhere: nobody takes it."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)


def file_bytes(path: Path) -> bytes:
    try:
        return beginning(path)
    except OSError as error:
        fail(f"{path} can't be read: {error.strerror}.", 2)


def reading_of_file(path: Path) -> Reading:
    """What a procedure file of any kind says."""
    return read_file(file_bytes(path), path.name)


def fault_line(path: Path, fault: PlacedFault) -> str:
    """``file.yaml:12:5: fault: ...``; a workbook has a cell in place of line and column, a CSV file has both."""
    kind = "remark" if fault.remark else "fault"
    if "!" in fault.cell:
        return f"{path}:{fault.cell}: {kind}: {fault.what}. {fault.remedy}."
    cell = f"cell {fault.cell}: " if fault.cell else ""
    return f"{path}:{fault.line}:{fault.column}: {kind}: {cell}{fault.what}. {fault.remedy}."


def text_as_stored(path: Path, reading: Reading) -> str:
    """The text under whose hash a library would keep the file, which must be sound."""
    from app.writing.files import stored_text

    assert reading.procedure is not None
    data = file_bytes(path)
    return stored_text(data, kind_of(data, path.name), reading.procedure)


def convert(file: Path, to: Out, replace: Replace = False) -> None:
    """Write a procedure file as another kind: YAML, a CSV table or an XLSX table. All say the same procedure."""
    from app.writing.files import NoTable, written

    kind = _kind(to)
    reading = reading_of_file(file)
    for fault in reading.faults:
        print(fault_line(file, fault), file=sys.stderr)
    if reading.procedure is None:
        fail(f"{file} can't be loaded.")
    try:
        made = written(reading.procedure, kind)
    except NoTable as error:
        fail(str(error))
    write(to, made, replace)


def template(to: Out, replace: Replace = False) -> None:
    """Write the template of a procedure table: its columns, with an example of each kind of row. CSV or XLSX."""
    from app.writing.template import template as made

    kind = _kind(to)
    if kind == "yaml":
        fail(f"{to}: the template is a table; write to a .csv or .xlsx file.", 2)
    write(to, made(kind), replace)


def _kind(path: Path) -> Kind:
    suffix = path.suffix.lower().removeprefix(".").replace("yml", "yaml")
    for kind in get_args(Kind):
        if suffix == kind:
            found: Kind = kind
            return found
    fail(f"{path}: the name must end in .yaml, .csv or .xlsx.", 2)


def write(path: Path, made: bytes, replace: bool) -> None:
    """Ends the program, in words, where it can't be written or is there already."""
    try:
        with path.open("wb" if replace else "xb") as file:
            file.write(made)
    except FileExistsError:
        fail(f"{path} is there already. Take another name, or add --replace.", 2)
    except OSError as error:
        fail(f"{path} can't be written: {error.strerror}.", 2)
    print(f"{path} written")
