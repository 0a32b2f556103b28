"""The library of runs: those of a procedure, a revision, a kind, some days, a person. It folds no log."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from unicodedata import normalize

from app.core.commands import Refusal
from app.core.quoting import quoted
from app.service.runs import Service
from app.service.values import KINDS, Refused
from app.store import finding
from app.store.faults import RunDamaged, StoreFault
from app.store.finding import Wanted
from app.store.library import StoredRun
from app.store.verifying import UNREADABLE

PAGE = 50
"""Runs on a page. Our own, no source."""

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


@dataclass(frozen=True, slots=True)
class Asked:
    """What is looked for, as it was typed. All that is not empty must be so.

    `person`: part of a name that signed an event of the run, or the designator of somebody of its procedure's crew;
    upper and lower case are the same. `first`, `last`: days of UTC, of the run's zero.
    """

    procedure: str = ""
    revision: str = ""
    kind: str = ""
    first: str = ""
    last: str = ""
    person: str = ""


@dataclass(frozen=True, slots=True)
class Found:
    """A page of runs, the newest first. `number`: of all that fit; `page`: which page it is, of `pages`, from 1."""

    runs: tuple[StoredRun, ...]
    number: int
    page: int
    pages: int


def find_runs(service: Service, asked: Asked, page: int = 1, most: int = PAGE) -> Found:
    """A page of the runs that fit; the last one where there are fewer.

    Raises:
        Refusal: what is asked can't be read. RunDamaged: a run's own row can't be. StoreFault: the database can't be.
    """
    wanted = _wanted(service, asked)
    try:
        found, number = service.store.read(lambda conn: finding.find(conn, wanted, most * (max(1, page) - 1), most))
        pages = max(1, -(-number // most))
        if page > pages:
            return find_runs(service, asked, pages, most)
    except StoreFault:
        raise
    except UNREADABLE as error:
        raise RunDamaged("What is stored of a run is damaged: “leadline verify” says of which.") from error
    return Found(found, number, max(1, page), pages)


def _wanted(service: Service, asked: Asked) -> Wanted:
    kind = asked.kind.strip()
    if kind and kind not in KINDS:
        raise Refusal("unknown-kind", f"A run is live or a rehearsal, not {quoted(kind)}.")
    signed_by, revisions = _of_person(service, asked.person)
    return Wanted(
        procedure=asked.procedure.strip(),
        revision=asked.revision.strip().rstrip("…"),
        kind=kind,
        first=_day(asked.first),
        last=_day(asked.last),
        signed_by=signed_by,
        revisions=revisions,
    )


def _day(said: str) -> date | None:
    text = said.strip()
    if not text:
        return None
    try:
        if not _DAY.fullmatch(text):
            raise ValueError("not the form")
        return date.fromisoformat(text)
    except ValueError as error:
        raise Refusal("bad-time", f"{quoted(text)} is no day: write 2031-05-04.") from error


def _of_person(service: Service, said: str) -> tuple[tuple[str, ...] | None, tuple[str, ...]]:
    """The names that fit, and the revisions whose crew has this designator; (None, ()) where nobody is asked for."""
    person = _folded(said)
    if not person:
        return None, ()
    names = service.store.read(finding.signers)
    signed = tuple(name for name in names if person in _folded(name))
    performed = service.store.read(finding.performed)
    return signed, tuple(name for name, _, _ in performed if person in map(_folded, _crew(service, name)))


def _folded(name: str) -> str:
    """The same for names that read the same: an accent may be a sign of its own (Unicode, UAX 15)."""
    return normalize("NFC", " ".join(name.split()).casefold())


def _crew(service: Service, revision: str) -> tuple[str, ...]:
    try:
        prepared = service.shelf.prepared(service.shelf.revision(revision))
    except Refused:
        return ()
    return prepared.network.crew


@dataclass(frozen=True, slots=True)
class Choices:
    """What there is to ask for.

    Attributes:
        titles: of each revision that has runs. procedures: (id, title) of those, by title.
        people: who signed anything, and the crews of those procedures.
    """

    titles: Mapping[str, str]
    procedures: tuple[tuple[str, str], ...]
    people: tuple[str, ...]


def choices(service: Service) -> Choices:
    """All of them. Raises StoreFault."""
    done = service.store.read(finding.performed)
    named: dict[str, str] = {}
    for _, procedure, title in done:
        named.setdefault(procedure, title)
    crew = {person for revision, _, _ in done for person in _crew(service, revision)}
    people = sorted({*service.store.read(finding.signers), *crew}, key=str.casefold)
    return Choices({revision: title for revision, _, title in done}, tuple(named.items()), tuple(people))
