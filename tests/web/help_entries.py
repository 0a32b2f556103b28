"""What the help must explain, as the tool itself has it, and what its pages do explain. No test of its own."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path
from typing import Any

import typer
from lxml import html  # type: ignore[import-untyped]  # it has no types

from app.cli import cli
from app.core.events import KINDS as EVENTS
from app.core.script import Drawn
from app.reading import rehearsal_script
from app.reading.columns import NAMES, REMARK
from app.reading.schema import schema
from app.settings import HOME, Settings
from app.web.help import rendered
from app.web.render import Renderer

PAGES = ("planner", "trainer", "keeper")
RIGHT_PAGE = {"field": "planner", "column": "planner", "script": "trainer", "setting": "keeper", "event": "keeper"}
"""The page on which things of a kind are explained. Commands and their options stand with the role that gives them."""
APP = Path(__file__).parents[2] / "app"


@dataclass(frozen=True, slots=True)
class Entry:
    """A thing that a page explains: its id there, the name that is shown, and what is said of it."""

    page: str
    kind: str
    id: str
    shown: str
    meaning: str


@cache
def page(name: str) -> str:
    return rendered(Renderer(HOME / "templates", "0"), HOME / "static", name)


def entries(name: str, text: str) -> tuple[Entry, ...]:
    """What a page explains, in its order."""
    found = html.document_fromstring(text).xpath("//code[@data-explains] | //dfn[@data-explains]")
    return tuple(Entry(name, each.get("data-explains"), each.get("id"), _words(each), _meaning(each)) for each in found)


def everything() -> tuple[Entry, ...]:
    return tuple(entry for name in PAGES for entry in entries(name, page(name)))


def _words(element: Any) -> str:
    return " ".join(element.text_content().split())


def _meaning(element: Any) -> str:
    """What follows the name: the rest of its entry, row or paragraph; of a command the paragraph below."""
    around = next(each for each in element.iterancestors() if each.tag in ("dt", "h4", "tr", "p"))
    told = around.getnext() if around.tag in ("dt", "h4") else around
    return "" if told is None else _words(told).removeprefix(_words(element))


# What there is

Names = Mapping[str, str]
"""The id under which a thing is explained, and its name as it is typed."""


def wanted(app: typer.Typer = cli) -> dict[str, Names]:
    """By kind, all that must be explained."""
    return {
        "command": dict(_commands(app)),
        "option": dict(_options(app)),
        "setting": dict(_settings()),
        "field": dict(_fields(schema())),
        "column": {f"column-{name.replace(REMARK, 'remark')}": name for name in (*NAMES, REMARK)},
        "script": {f"script-{name.replace('.', '-')}": name for name in _script()},
        "event": {f"event-{kind}": kind for kind in EVENTS},
    }


def _walk(command: Any, name: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    """A command with its words, and all below it; a group has `commands`, whichever of click's it is."""
    yield name, command
    for word, inner in getattr(command, "commands", {}).items():
        yield from _walk(inner, (*name, word))


def _commands(app: typer.Typer) -> Iterator[tuple[str, str]]:
    for name, command in _walk(typer.main.get_command(app)):
        if not hasattr(command, "commands"):
            yield f"command-{'-'.join(name)}", f"leadline {' '.join(name)}"


def _options(app: typer.Typer) -> Iterator[tuple[str, str]]:
    for name, command in _walk(typer.main.get_command(app)):
        for each in command.params:
            for written in (*each.opts, *each.secondary_opts):
                if written.startswith("-"):
                    yield f"option-{'-'.join(name or ('leadline',))}-{written.removeprefix('--')}", written


def _settings() -> Iterator[tuple[str, str]]:
    """The fields of `Settings`, and what is read from the environment by the application or its service's unit."""
    for each in fields(Settings):
        yield f"setting-{each.name}", each.name
    for path in (*APP.rglob("*.py"), *APP.rglob("*.service")):
        for name in re.findall(r"\bLEADLINE_[A-Z_]+\b", path.read_text("utf-8")):
            yield f"setting-{name}", name


def _script() -> Iterator[str]:
    yield from (*rehearsal_script.TOP_KEYS, "at")
    for kind, keys in rehearsal_script.KINDS.items():
        yield from (kind, *(f"{kind}.{key}" for key in keys))
    yield from (f"random.{each.name}" for each in fields(Drawn))


PARTS = ("task", "step", "value", "link")
"""The named parts of the schema that have fields of their own. A field is told once, wherever the part stands."""


def _fields(whole: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for path in (*_of("", whole), *(each for part in PARTS for each in _of(part, whole["$defs"][part]))):
        yield f"field-{path.replace('.', '-')}", path.split(".")[-1]


def _of(path: str, part: Mapping[str, Any]) -> Iterator[str]:
    """The fields of a part of the schema and of what it holds, as paths; references are not followed."""
    for name, inner in part.get("properties", {}).items():
        here = f"{path}.{name}" if path else name
        yield here
        yield from _of(here, inner)
    below = [*part.get("anyOf", ()), part.get("items"), part.get("additionalProperties")]
    for inner in below:
        if isinstance(inner, Mapping):
            yield from _of(path, inner)


def unexplained(things: Mapping[str, Names], found: tuple[Entry, ...]) -> list[str]:
    """What is not explained, or not under its own name, or in fewer than three words. A line each."""
    told = {entry.id: entry for entry in found}
    lines = []
    for kind, names in things.items():
        for id_, name in names.items():
            entry = told.get(id_)
            if entry is None or entry.kind != kind or entry.shown != name:
                lines.append(f"the {kind} {name} is not explained: no code element {id_} says so")
            elif len(entry.meaning.split()) < 3:
                lines.append(f"the {kind} {name} has no words ({id_} on {entry.page})")
    return lines


def misplaced(found: tuple[Entry, ...]) -> list[str]:
    """What stands on another page than the one for its kind, or away from its command."""
    commands = {entry.id.removeprefix("command-"): entry.page for entry in found if entry.kind == "command"}
    lines = []
    for entry in found:
        of = max((name for name in commands if entry.id.startswith(f"option-{name}-")), key=len, default="")
        right = commands.get(of, entry.page) if entry.kind == "option" else RIGHT_PAGE.get(entry.kind, entry.page)
        if entry.page != right:
            lines.append(f"{entry.id} stands on the page {entry.page}; it belongs on {right}")
    return lines
