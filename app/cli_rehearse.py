"""`leadline rehearse`: a rehearsal of a procedure file, by a script or plain, served or simulated to its end."""

import secrets
import sys
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from app.cli_files import fail, fault_line, file_bytes, reading_of_file, say
from app.cli_serve import serve_until_stopped
from app.cli_store import SQLITE, Data, Database, chosen_database, opened
from app.core.commands import Refusal
from app.core.procedure import Procedure
from app.core.script import Script, troubles
from app.core.times import clock, duration, lead_words
from app.reading.rehearsal_script import read_script
from app.settings import Settings, default_data, default_procedures

if TYPE_CHECKING:
    from app.core.simulated import Simulated
    from app.core.situation import Prepared

ScriptFile = Annotated[Path | None, typer.Option("--script", help="Script of the rehearsal, a YAML file.")]
Who = Annotated[
    str | None,
    typer.Option("--players", help="Who is simulated: designators with commas between, all, or none.", metavar="WHO"),
]
Speed = Annotated[float | None, typer.Option(help="How fast its clock goes: 4 is four seconds each second.")]
Seed = Annotated[int | None, typer.Option(help="Of the simulated people; the same seed does the same.", min=0)]
Finish = Annotated[bool, typer.Option("--finish", help="Simulate everybody at once to the end, and serve nothing.")]
ANY_SEED = 10_000


def rehearse(
    file: Path,
    script: ScriptFile = None,
    players: Who = None,
    speed: Speed = None,
    seed: Seed = None,
    finish: Finish = False,
    data: Data = None,
    database: Database = None,
    host: Annotated[str, typer.Option(help="Address to serve at, as with serve.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(help="Port to serve at.", min=1, max=65535)] = 8765,
) -> None:
    """Start a rehearsal of a procedure file and serve it; with --finish, have it done by simulated people at once."""
    reading = reading_of_file(file)
    for fault in reading.faults:
        print(fault_line(file, fault), file=sys.stderr)
    if reading.procedure is None:
        fail(f"{file} can't be loaded.")
    asked = _asked(_script(script, reading.procedure), players, speed)
    chosen = next(each for each in (seed, asked.seed, secrets.randbelow(ANY_SEED)) if each is not None)
    if finish:
        _finish(file, data, database, asked, chosen)
    else:
        settings = Settings(
            data or default_data(), default_procedures(), host, port, database=chosen_database(database)
        )
        _serve(file, settings, asked, chosen)


def _script(path: Path | None, procedure: Procedure) -> Script:
    if path is None:
        return Script()
    reading = read_script(file_bytes(path), procedure)
    for fault in reading.faults:
        print(fault_line(path, fault), file=sys.stderr)
    if reading.script is None:
        fail(f"{path} is no script for {procedure.id}.")
    return reading.script


def _asked(script: Script, players: str | None, speed: float | None) -> Script:
    """The script with what the command line says otherwise."""
    if players is not None:
        named = tuple(name for each in players.split(",") if (name := each.strip()))
        script = replace(script, players=None if named == ("all",) else () if named == ("none",) else named)
    return script if speed is None else replace(script, speed=speed, stopped=speed == 0)


def _serve(file: Path, settings: Settings, script: Script, seed: int) -> None:
    from app.main import address
    from app.service.rehearsing import begin
    from app.serving import CannotServe, bind, check_host
    from app.web.keys import new_key

    try:
        check_host(settings)
        bind(settings.host, settings.port).close()
    except CannotServe as fault:  # Found out now, before a run is started.
        fail(str(fault))
    with opened(settings.data, database=settings.database or SQLITE) as store:
        run = begin(store, file_bytes(file), file.name, script, seed, new_key)
    say(f"Rehearsal, run {run}{f', its simulated people from seed {seed}' if script.players != () else ''}.")
    trainer = f"The trainer's page is {address(settings)}/runs/{run}/trainer"
    serve_until_stopped(settings, f"/runs/{run}/desk", lambda _: say(trainer))


# Done at once


def _finish(file: Path, data: Path | None, database: str | None, script: Script, seed: int) -> None:
    from app.core.simulated import NeverEnds, simulate
    from app.service.rehearsing import keep
    from app.service.runs import Service
    from app.store.clock import wall_clock
    from app.web.keys import new_key

    now = wall_clock()
    with opened(data, database=database) as store:
        shelf = Service(store).shelf
        loaded = shelf.load(file_bytes(file), file.name)
        try:
            made = simulate(loaded.prepared, loaded.hash, now, seed, troubles(loaded.prepared, script))
        except (NeverEnds, Refusal) as fault:
            fail(str(fault))
        ended, zero = _ended_at(made, now)
        run = keep(store, shelf, ended, zero, new_key)
    print(f"Run {run} of {loaded.prepared.procedure.id}: everybody simulated, from seed {seed}.")
    for sentence in _outcome(made, loaded.prepared):
        print(sentence)


def _ended_at(made: "Simulated", now: datetime) -> "tuple[Simulated, datetime]":
    """The same run with its end now, and its zero."""
    from app.core.times import instant

    zero = now - timedelta(seconds=made.state.ended_s or 0)
    return replace(made, started=replace(made.started, zero_utc=instant(zero))), zero


def _outcome(made: "Simulated", prepared: "Prepared") -> list[str]:
    from app.core.situation import Situation

    state, limit_s = made.state, prepared.procedure.limits.finish_s
    situation = Situation(prepared, state, state.ended_s or 0)
    finish_s = situation.projection.end_s
    last = f"The last step was done at {clock(finish_s)}, {lead_words(situation.lead_s)}"
    said = [f"{last}; the run ended at {clock(state.ended_s or 0)}."]
    if limit_s is not None:
        room_s = limit_s - finish_s
        said.append(
            f"That is {duration(abs(room_s))} {'before' if room_s >= 0 else 'past'} the limit, {clock(limit_s)}."
        )
    happened, still = len(state.rehearsal.happened), len(state.rehearsal.injects)
    if happened + still:
        said.append(f"{happened} of {happened + still} trouble{'s' * (happened + still > 1)} took effect.")
    return said
