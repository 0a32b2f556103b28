"""A run as a file to keep, and a run from a file that another Leadline made. It orders nothing in any run."""

from dataclasses import dataclass
from threading import Lock
from typing import Literal

from sqlalchemy import Connection

from app.core.commands import Refusal
from app.core.heads import head_words
from app.core.rehearsal import is_kept_from_trainees
from app.core.signs import shown
from app.reading.run_lines import RunLines, read_run_lines
from app.service import news
from app.service.runs import Service
from app.store import journal, library, records
from app.store.holding import NEW_RUN
from app.store.records import Brought, Record
from app.writing.run_record import RunRecord

FileKind = Literal["csv", "xlsx", "xes", "jsonl"]
FILE_KINDS: tuple[FileKind, ...] = ("csv", "xlsx", "xes", "jsonl")

LONGEST_SOURCE = 100


WITHHELD = (
    "This rehearsal goes on, and its log holds trouble that is to come. Whoever trains can take the whole run now, "
    "everybody once it has ended."
)


@dataclass(frozen=True, slots=True)
class RunFile:
    """`name`: what the file may be called, without a path. `head`: of the log that is in it, ``SEQ:HASH``."""

    data: bytes
    name: str
    head: str


@dataclass(frozen=True, slots=True)
class Imported:
    """What came of a file.

    Attributes:
        run: its number here. made_as: its number where it was made. events: how many its log has here now.
        new: how many of them came with this file; 0 where it was here already.
        is_new: whether the run itself is new here. head: of its log here.
    """

    run: int
    made_as: int
    events: int
    new: int
    is_new: bool
    head: str


def run_file(service: Service, run: int, kind: FileKind, whole: bool = True) -> RunFile:
    """The run as it stands, as performed; as ``jsonl`` its whole log, to be imported elsewhere.

    `whole`: whether trouble of a rehearsal that is still to come may be told.

    Raises:
        NoSuchRun, Refused, RunDamaged: as `Service.run`. Refusal: the whole log is asked for and may not be told.
    """
    if kind == "jsonl":
        if not whole:
            raise Refusal("not-allowed", WITHHELD)
        return _lines(service, run)
    live = service.run(run)
    log = tuple(live.log)
    head = head_words(log[-1].seq, log[-1].chain)
    told = log if whole else tuple(each for each in log if not is_kept_from_trainees(each.event))
    record = RunRecord(run, service.situation(run), told, live.stored.zero_utc, head)
    return RunFile(_table(record, kind), f"run-{run}-as-run.{kind}", head)


def _table(record: RunRecord, kind: FileKind) -> bytes:
    # Only who writes such a file needs its writer: a server starts without openpyxl.
    if kind == "csv":
        from app.writing.as_run_csv import as_run_csv

        return as_run_csv(record)
    if kind == "xes":
        from app.writing.xes import xes

        return xes(record)
    from app.writing.as_run_xlsx import as_run_xlsx

    return as_run_xlsx(record)


def _lines(service: Service, run: int) -> RunFile:
    from app.writing.run_lines import run_lines

    found = service.store.read(lambda conn: records.record(conn, run))
    service.run(run)  # A damaged log is no record to hand on.
    revision = service.shelf.revision(found.row["revision"])
    last = found.events[-1]
    head = head_words(last["seq"], last["chain"])
    data = run_lines(found.row, found.events, revision.procedure, revision.source, revision.text, head)
    return RunFile(data, f"run-{run}.jsonl", head)


def import_run(service: Service, data: bytes, source: str, by: str) -> Imported:
    """Read a run, check it to the last link of its chain, and keep it as a record. One at a time.

    The same run is the same: one that is here already, by its row where it was made, is not stored again. Where the
    file's log goes on from that of an imported run, the rest is added to it.

    Raises:
        RunFault: the file can't be taken. Refusal: it is another version of a run that is here. StoreFault: it could
        not be stored.
    """
    found = read_run_lines(data)
    with _ONE:
        return _imported(service, found, " ".join(shown(source).split())[-LONGEST_SOURCE:], by)


_ONE = Lock()


def _imported(service: Service, found: RunLines, name: str, by: str) -> Imported:
    known = service.store.read(lambda conn: records.same_run(conn, found.row))
    if known is not None:
        service.run(known)  # In memory before its log grows, so that nobody reads it half.

    def job(conn: Connection) -> Imported:
        journal.hold(conn, NEW_RUN)
        here = records.same_run(conn, found.row)
        if here is not None:
            journal.hold(conn, here)
            service.store.tell(conn, news.of_run(here))
            return _longer(conn, here, found)
        text, procedure, now = found.text, found.procedure, service.clock.utc()
        library.put(conn, text, procedure.id, procedure.title, found.source or name, now)
        run = records.take(conn, Record(found.row, found.events), Brought(now, by, name))
        service.store.tell(conn, news.of_run(run))
        return Imported(run, found.row["run"], len(found.log), len(found.log), True, found.head)

    imported = service.store.write(job).result()
    if imported.new and not imported.is_new:
        service.lengthened(imported.run, found.log[-imported.new :])
    return imported


def _longer(conn: Connection, run: int, found: RunLines) -> Imported:
    """The run is here: with this log, with more of it, or with less, which is then added."""
    here = records.record(conn, run).events
    for ours, theirs in zip(here, found.events, strict=False):
        if ours["chain"] != theirs["chain"]:
            raise Refusal(
                "other-log", f"{_this(run)}, but from event {ours['seq']} on its log here is another one. {_OTHER}"
            )
    rest = found.events[len(here) :]
    if rest and not records.is_imported(conn, run):
        raise Refusal(
            "made-here",
            f"{_this(run)}. It was made here, and its log ends here at event {len(here)}; the file goes on to event "
            f"{len(found.events)}. It went on in a copy of this data; a run made here is not lengthened from a file.",
        )
    if rest and rest[0]["key"] == here[-1]["key"]:
        raise Refusal("other-log", f"{_this(run)}, but its log here ends in the middle of a command. {_OTHER}")
    records.lengthen(conn, run, rest)
    last = found.events[-1] if rest else here[-1]
    head = head_words(last["seq"], last["chain"])
    return Imported(run, found.row["run"], len(here) + len(rest), len(rest), False, head)


def _this(run: int) -> str:
    return f"Run {run} here is the run of this file"


_OTHER = "One of the two was changed, or both went on from a copy. Nothing was stored."


def imported_words(found: Imported) -> str:
    """What was done, as a sentence."""
    log = f"{found.events} event{'' if found.events == 1 else 's'}, chain whole, head {found.head}"
    if found.is_new:
        return f"Imported as run {found.run}; where it was made it is run {found.made_as}. {log}."
    if found.new:
        return f"It is run {found.run} here. Its log has grown by {found.new}: {log}."
    return f"It is here already, as run {found.run}; nothing was changed. {log}."
