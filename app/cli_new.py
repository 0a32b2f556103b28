"""`leadline new`: a starter file, with what to do next. It never writes over a file."""

from pathlib import Path
from typing import Annotated

import typer

from app.cli_files import fail, fault_line
from app.core.quoting import quoted
from app.reading.procedure_reader import read_procedure
from app.reading.spots import ID
from app.writing.starter import DEFAULT_PEOPLE, starter

Name = Annotated[Path, typer.Argument(help="The file to write: NAME.yaml.")]
Title = Annotated[str, typer.Option(help="What people call the procedure; else made from the file's name.")]
People = Annotated[str, typer.Option(help="Designators, divided by commas: two or more.")]

_DEFAULT_PEOPLE = ",".join(DEFAULT_PEOPLE)


def new(file: Name, title: Title = "", people: People = _DEFAULT_PEOPLE) -> None:
    """Write a starter file of a procedure: sound as it stands, each field explained. Never writes over a file."""
    path = _with_ending(file)
    name = "-".join(path.stem.split())
    if not ID.fullmatch(name):
        fail(
            f"{path}: {quoted(name)} can't be the name of a procedure. Begin with a letter or digit, then letters, "
            "digits, - _ or . with no blanks, at most 64.",
            2,
        )
    text = starter(name, title.strip() or name.replace("-", " ").replace("_", " ").capitalize(), _crew(people))
    faults = [fault_line(path, fault) for fault in read_procedure(text).faults]
    if faults:
        fail("\n".join([*faults, "Nothing was written. Take another title or other designators."]), 2)
    _write(path, text)
    print(f"{path} written. Everything in it is an example: make it yours with any editor.")
    print(f"  leadline check {_word(path)}    says whether it is sound, and each fault with its place and remedy")
    print(f"  leadline serve{_where(path)}    then open the address that it prints, and start a rehearsal")
    print("Would you rather have a table? leadline template --to outing.xlsx")


def _with_ending(file: Path) -> Path:
    suffix = file.suffix.lower()
    if not file.name:
        fail(f"{file}: that is a folder. Name the file: NAME.yaml.", 2)
    if suffix in {".csv", ".xlsx"}:
        fail(f"{file}: a starter file is YAML. For a table there is a template: leadline template --to {file}", 2)
    return file if suffix in {".yaml", ".yml"} else file.with_name(f"{file.name}.yaml")


def _crew(people: str) -> tuple[str, ...]:
    crew = tuple(each.strip() for each in people.split(",") if each.strip())
    if len(crew) < 2:
        fail("--people: name two or more, divided by commas: EV1,GROUND. A second one answers at the hold.", 2)
    wrong = [each for each in crew if not ID.fullmatch(each)]
    if wrong:
        fail(f"--people: {quoted(wrong[0])} can't be a designator. Write letters and digits with no blanks: EV1,EV2", 2)
    if len(set(crew)) < len(crew):
        fail("--people: somebody is named twice. Name each once.", 2)
    return crew


def _write(path: Path, text: str) -> None:
    try:
        path.parent.mkdir(exist_ok=True)
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        fail(f"{path} is there already, and a starter never takes the place of a file. Take another name.", 2)
    except OSError as error:
        fail(f"{path} can't be written: {error.strerror}.", 2)


def _word(path: Path) -> str:
    return f'"{path}"' if " " in str(path) else str(path)


def _where(path: Path) -> str:
    """Nothing where `serve` finds the file by itself: in a folder named procedures."""
    return "" if path.parent == Path("procedures") else f" --procedures {_word(path.parent)}"
