"""The commands: `leadline new, check, schema, convert, template, load, plan, project, carry, verify, serve, demo`.

Each reads, calls and prints.
"""

import hashlib
import json
import signal
import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from app.cli_copy import copy
from app.cli_deploy import common, deploy
from app.cli_durations import durations
from app.cli_files import (
    convert,
    escape_unknown_signs,
    fail,
    fault_line,
    file_bytes,
    leave,
    mute,
    reading_of_file,
    say,
    template,
    text_as_stored,
)
from app.cli_keep import backup, restore, verify
from app.cli_new import new
from app.cli_people import person
from app.cli_rehearse import rehearse
from app.cli_run_files import calendar, export, import_
from app.cli_runs import carry
from app.cli_serve import serve_until_stopped
from app.cli_store import Data, Database, DemoData, chosen_database, no_folder, opened
from app.core.marked import state_of_marks
from app.core.report import plan_report, situation_report
from app.core.situation import Prepared, Situation
from app.core.times import TimeFault, clock, duration, read_clock
from app.printing import print_situation, print_tried
from app.reading.marks import read_marks
from app.reading.procedure_reader import Reading
from app.reading.schema import schema as procedure_schema
from app.reading.shown_lines import drawn
from app.settings import HOME, Settings, default_also_at, default_data, default_procedures

cli = typer.Typer(
    name="leadline",
    help="Leadline: a checklist runner for live crewed operations. It advises; the person in charge decides.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)

Samples = Annotated[Path | None, typer.Option(help="Folder of procedure files to load at start.")]
Host = Annotated[str, typer.Option(help="Address to serve at; another than this machine's own needs accounts.")]
Port = Annotated[int, typer.Option(help="Port to serve at.", min=1, max=65535)]
Behind = Annotated[
    list[str] | None,
    typer.Option(
        help="Address of a proxy that is believed on who asks and whether by https. May be given again.",
        envvar="LEADLINE_BEHIND",
        metavar="ADDRESS",
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print the fixed JSON form.")]


def main() -> None:
    """The entry point of the command `leadline`."""
    escape_unknown_signs()
    try:
        try:
            cli()
        finally:
            if sys.stdout is not None:  # None where it was closed.
                sys.stdout.flush()
    except OSError as error:
        mute()
        fail(_unforeseen(error))


def _unforeseen(error: OSError) -> str:
    try:
        Path.cwd()
    except OSError:
        return "The current folder is not there any more. Change to one that is, then try again."
    if error.filename is None:
        return f"What was to be printed can't be written: {error.strerror}."
    return f"{error.filename} can't be used: {error.strerror}."


cli.command()(new)
cli.command()(convert)
cli.command()(template)
cli.command()(carry)
cli.command()(export)
cli.command("import")(import_)
cli.command()(calendar)
cli.command()(durations)
cli.command()(rehearse)
cli.command()(verify)
cli.command()(backup)
cli.command()(restore)
cli.command()(copy)
cli.add_typer(person, name="person")
cli.command()(deploy)
cli.callback()(common)


@cli.command()
def check(files: Annotated[list[Path], typer.Argument(help="Procedure files.")]) -> None:
    """Check procedure files: every fault with its line, column and remedy. Exit code 1 if any file has one."""
    bad = 0
    for path in files:
        reading = reading_of_file(path)
        for fault in reading.faults:
            print("\n".join([fault_line(path, fault), *drawn(fault)]))
        if reading.procedure is None:
            bad += 1
        else:
            finish = clock(Prepared(reading.procedure).plan.end_s)
            print(f"{path}: sound, {len(reading.procedure.steps)} steps, plan finish {finish}")
    if bad:
        fail(f"{bad} of {len(files)} file{'s' if len(files) > 1 else ''} can't be loaded.")


def _prepared(path: Path) -> tuple[Prepared, Reading]:
    reading = reading_of_file(path)
    for fault in reading.faults:
        print(fault_line(path, fault), file=sys.stderr)
    if reading.procedure is None:
        fail(f"{path} can't be loaded.")
    return Prepared(reading.procedure), reading


@cli.command()
def schema() -> None:
    """Print the JSON Schema (2020-12) of procedure files, for editors."""
    print(json.dumps(procedure_schema(), indent=2, ensure_ascii=False))


@cli.command()
def plan(file: Path, as_json: AsJson = False) -> None:
    """Print the nominal timeline of a procedure file."""
    prepared, _ = _prepared(file)
    report = plan_report(prepared)
    if as_json:
        print(json.dumps(report, indent=1))
        return
    print(f"{prepared.procedure.title}: plan finish {clock(report['plan_finish_s'])}")
    print(f"{'step':32} {'start':9} {'finish':9} {'at latest':9} float")
    for row in report["steps"]:
        slack = "critical" if row["critical"] else duration(row["float_s"])
        late = clock(row["late_finish_s"])
        print(f"{row['id']:32} {clock(row['start_s']):9} {clock(row['finish_s']):9} {late:9} {slack}")


@cli.command()
def project(
    file: Path,
    marks: Annotated[Path, typer.Option(help="CSV file with the columns step,at.")],
    at: Annotated[str, typer.Option(help="Elapsed time, h:mm or h:mm:ss. Later marks are left out.")],
    changes: Annotated[
        list[str] | None,
        typer.Option("--if", help="A change to try, such as 'EV2 loses 15 min' or 'put off TASK'. May be given again."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Print where a run stands at an elapsed time, from a file of marks; with --if, where it would stand."""
    prepared, as_read = _prepared(file)
    try:
        at_s = read_clock(at)
    except TimeFault as fault:
        fail(f"--at: {fault}; {fault.remedy}.", 2)
    reading = read_marks(file_bytes(marks))
    known = prepared.network.index
    unknown = [f"{marks}: there is no step {step}." for step, _ in reading.marks if step not in known]
    if reading.faults or unknown:
        fail("\n".join([*(fault_line(marks, each) for each in reading.faults), *unknown]))
    marked = state_of_marks(prepared, reading.marks, at_s)
    for remark in marked.remarks:
        print(f"{marks}: remark: {remark}.", file=sys.stderr)
    # The forecast's seed, as a server has it.
    revision = hashlib.sha256(text_as_stored(file, as_read).encode()).hexdigest()
    situation = Situation(prepared, replace(marked.state, revision=revision), at_s)
    if changes:
        _print_tried(situation, changes, as_json)
    elif as_json:
        print(json.dumps(situation_report(situation), indent=1, ensure_ascii=False))
    else:
        print_situation(situation)


def _print_tried(situation: Situation, changes: list[str], as_json: bool) -> None:
    from app.core.commands import Refusal
    from app.core.foresight import tried_report
    from app.core.outlook import compared
    from app.core.what_if import what_if
    from app.service.far import draw

    try:
        report = tried_report(compared(situation, what_if(situation, changes), draw))
    except Refusal as refusal:
        fail(str(refusal))
    if as_json:
        print(json.dumps(report, indent=1, ensure_ascii=False))
    else:
        print_tried(report, situation.procedure.on_plan_within_s)


def _settings(data: Path | None, procedures: Path | None, host: str, port: int) -> Settings:
    return Settings(data or default_data(), procedures or default_procedures(), host, port)


@cli.command()
def load(files: list[Path], data: Data = None, database: Database = None) -> None:
    """Check procedure files and put them into the library. A file with faults is refused whole."""
    from app.service.runs import Service
    from app.service.values import Refused

    refused = 0
    with opened(data, database=database) as store:
        shelf = Service(store).shelf
        for path in files:
            try:
                loaded = shelf.load(file_bytes(path), path.name)
            except Refused as refusal:
                refused += 1
                print("\n".join(fault_line(path, fault) for fault in refusal.faults), file=sys.stderr)
            else:
                print(f"{path}: {'loaded as' if loaded.is_new else 'already there as'} revision {loaded.hash[:12]}")
    if refused:
        fail(f"{refused} of {len(files)} file{'s' if len(files) > 1 else ''} refused.")


@cli.command("serve")
def serve_command(
    data: Data = None,
    database: Database = None,
    host: Host = "127.0.0.1",
    port: Port = 8765,
    procedures: Samples = None,
    tls_cert: Annotated[Path | None, typer.Option(help="Certificate to serve https with: a PEM file.")] = None,
    tls_key: Annotated[Path | None, typer.Option(help="Its key: a PEM file without a password.")] = None,
    known_as: Annotated[
        list[str] | None,
        typer.Option(help="A name, without scheme and port, by which others ask for it. May be given again."),
    ] = None,
    behind: Behind = None,
    also_at: Annotated[
        list[str] | None,
        typer.Option(
            help="Where another server of the same database is, as http://NAME:PORT; pages that lose this one lead "
            "there. May be given again. Default: $LEADLINE_ALSO_AT, with spaces between."
        ),
    ] = None,
) -> None:
    """Serve Leadline from this machine; for other machines too where there are accounts."""
    if procedures is not None and not procedures.is_dir():
        fail(f"{procedures} is not a folder.", 2)
    settings = _settings(data, procedures, host, port)
    sealed = replace(settings, tls_cert=tls_cert, tls_key=tls_key, database=chosen_database(database))
    elsewhere = tuple(also_at or default_also_at())
    named = replace(sealed, known_as=tuple(known_as or ()), behind=tuple(behind or ()), also_at=elsewhere)
    serve_until_stopped(named, "/")


@cli.command()
def demo(data: DemoData = None, host: Host = "127.0.0.1", port: Port = 8765) -> None:
    """A rehearsal of the sample, well under way, with its clock running. Without --data it leaves nothing behind."""
    from app.demo import also_finished, build
    from app.serving import CannotServe, check_host, free_port
    from app.store.faults import StoreFault

    # Left to itself, the signal would end the process before the scratch folder is removed.
    signal.signal(signal.SIGTERM, leave)
    with tempfile.TemporaryDirectory(prefix="leadline-demo-") as scratch:
        try:
            settings = Settings(data or Path(scratch), HOME / "procedures", host, port)
            check_host(settings)
            settings = replace(settings, port=free_port(host, port))
            run = build(settings)
        except (CannotServe, StoreFault) as fault:
            fail(str(fault))
        except OSError as error:
            fail(no_folder(settings.data, error))
        say("Rehearsal of the sample, 1 h 45 min in. Stop it with Ctrl+C.")
        serve_until_stopped(settings, f"/runs/{run}/desk", also_finished)


if __name__ == "__main__":
    main()
