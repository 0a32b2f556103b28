"""The JSON API. Each route reads its input, asks the service and answers; errors are RFC 9457 problem details."""

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Header, Query, Request, Response
from fastapi.responses import JSONResponse, StreamingResponse
from starlette.concurrency import run_in_threadpool

from app.core.commands import Command, MarkStep, Refusal, moment
from app.core.heads import head_of
from app.core.report import situation_report
from app.core.situation import Situation
from app.core.times import instant
from app.core.turn_back import turn_back
from app.service.carrying import carried_file
from app.service.finding import Asked, find_runs
from app.service.runs import wait
from app.service.values import Outcome, Refused, Sender
from app.store.faults import RunDamaged
from app.web.access import may_order
from app.web.addresses import PlainInt, RunId
from app.web.depends import Me, MeDep, Shell, ShellDep
from app.web.errors import problem, status_of
from app.web.heads import HEAD, HEADERS, log_head
from app.web.keys import new_key, read_key
from app.web.live import HOME
from app.web.orders import command_of
from app.web.safe_headers import AT_ONCE
from app.web.said import Said
from app.web.schemas import (
    PROBLEM,
    SENT,
    CarriedOut,
    LoggedOut,
    Mark,
    OutcomeOut,
    RunIn,
    RunOut,
    Signed,
    SituationOut,
)
from app.web.schemas_orders import Order
from app.web.strict_json import StrictJson
from app.web.withheld import told

api = APIRouter(
    prefix="/api",
    tags=["Leadline"],
    responses=dict.fromkeys((400, 401, 403, 404, 422), PROBLEM),
    route_class=StrictJson,
)


MOST_RUNS = 10**6
"""All that there may be: the list of the API has no pages."""


@api.post("/runs", status_code=201, response_model=SituationOut, responses=SENT)
def start_run(sent: RunIn, shell: ShellDep, me: MeDep) -> dict[str, Any]:
    """Start a run. Its clock starts now, or `running` ago."""
    running_s = moment(sent.running, 0)
    run = shell.service.start_run(sent.procedure, sent.kind, _sender(sent, me), running_s)
    return _situation(shell, run, shell.service.situation(run))


@api.get("/runs", response_model=list[RunOut])
def runs(
    shell: ShellDep,
    procedure: Annotated[str, Query(max_length=200)] = "",
    revision: Annotated[str, Query(max_length=200, description="A hash, or the beginning of one.")] = "",
    kind: Annotated[Literal["", "live", "rehearsal"], Query()] = "",
    first: Annotated[str, Query(alias="from", max_length=200, description="Day of UTC of the zero, YYYY-MM-DD.")] = "",
    last: Annotated[str, Query(alias="to", max_length=200, description="The last such day.")] = "",
    person: Annotated[str, Query(max_length=200, description="Part of a name in the log, or a designator.")] = "",
) -> list[dict[str, Any]]:
    """All runs, or those that fit, the newest first, but those that can't be read any more; the Home page says why."""
    rows = []
    asked = Asked(procedure, revision, kind, first, last, person)
    for stored in find_runs(shell.service, asked, most=MOST_RUNS).runs:
        try:
            rows.append(_run(shell, stored.run))
        except (Refused, RunDamaged):
            continue
    return rows


@api.get("/runs/{run}", response_model=SituationOut, responses={200: {"headers": HEADERS}})
def run_state(
    run: RunId, shell: ShellDep, response: Response, at: Annotated[str, Query(max_length=20)] = ""
) -> dict[str, Any]:
    """State and projection now, or as it stood at an elapsed time (`h:mm:ss`, or whole seconds)."""
    found = _situation(shell, run, _at(shell, run, at))
    response.headers[HEAD] = found["head"]
    return found


@api.get("/runs/{run}/carried", response_model=CarriedOut, responses={200: {"headers": HEADERS}, 409: PROBLEM})
def carried(
    run: RunId, shell: ShellDep, response: Response, at: Annotated[str, Query(max_length=20)] = ""
) -> dict[str, str]:
    """What the run leaves, or would leave if it ended now (or then), as a procedure file. 404 if it leaves nothing."""
    response.headers[HEAD] = log_head(shell, run)
    found = carried_file(_at(shell, run, at), run, head=response.headers[HEAD])
    return {"procedure": found.procedure.id, "text": found.text}


@api.post("/runs/{run}/marks", response_model=OutcomeOut, responses=SENT)
async def mark(
    run: RunId,
    sent: Mark,
    shell: ShellDep,
    me: MeDep,
    idempotency_key: Annotated[str | None, Header(max_length=45)] = None,
) -> Response:
    """Mark a step done. Answered once it is on disk. The same `key` again gets the same answer and marks nothing."""
    values = tuple((name, float(reading)) for name, reading in sent.values.items())
    command = MarkStep(sent.step, values, sent.ordered_because)
    return await _order(shell, me, run, command, sent, sent.at, idempotency_key)


@api.post("/runs/{run}/orders", response_model=OutcomeOut, responses=SENT)
async def order(
    run: RunId,
    sent: Order,
    shell: ShellDep,
    me: MeDep,
    idempotency_key: Annotated[str | None, Header(max_length=45)] = None,
) -> Response:
    """Any other order: undo, reopen, start, note, go, no-go, not-needed, put-off, put-back, take, put-off-set,
    put-back-set, take-set, give-back, revise, reorder, swap, add-step, what-if, end; acknowledge, count, accept,
    confirm, correct, poll, poll-go, poll-no-go, close-poll, round-good, round-bad, reading, tool, flag, clear-flag,
    strike, hand-over; of a rehearsal clock, players, inject, draw-trouble, drop-inject,
    inject-done.
    """
    return await _order(shell, me, run, command_of(sent.do, _said(sent)), sent, sent.at, idempotency_key)


def _said(sent: Order) -> Said:
    return Said(
        step=sent.step or "",
        task=sent.task or "",
        person=sent.person or "",
        reason=sent.reason,
        takes="" if sent.takes is None else sent.takes,
        tasks=tuple(sent.tasks),
        other=sent.other or "",
        text=sent.text,
        who=tuple(sent.who),
        before=sent.before or "",
        after=tuple(sent.after),
        changes=tuple(sent.changes),
        number=sent.number,
        poll=sent.poll or "",
        round=sent.round or "",
        supply=sent.supply or "",
        value=sent.value,
        values=tuple(sent.values.items()),
        readings=tuple(sent.readings.items()),
        tool=sent.tool or "",
        how=sent.how or "",
        where=sent.where,
        flag=sent.flag,
        entry=sent.entry,
        to=sent.to or "",
        anew=sent.anew,
        heard=sent.heard,
        keep_time=sent.at is None,
        rate=sent.rate,
        set_to="" if sent.set_to is None else sent.set_to,
        seed=sent.seed,
        what=sent.what or "",
        name=sent.name or "",
        inject=sent.inject or "",
    )


async def _order(
    shell: Shell, me: Me, run: int, command: Command, sent: Signed, at: str | int | None, header: str | None
) -> Response:
    may_order(me.visitor, command)
    await shell.ready(run)
    try:
        outcome = await wait(shell.service.order(run, command, _sender(sent, me, header), at))
    except Refusal as refusal:
        state = _run(shell, run) | {"seq": shell.service.run(run).state.seq, "at_s": shell.service.run(run).now_s()}
        may = refusal.may_order or None
        return problem(status_of(refusal), str(refusal), code=refusal.code, may_order=may, state=state)
    return JSONResponse(_outcome(outcome))


def _outcome(outcome: Outcome) -> dict[str, Any]:
    return {"seq": outcome.seq, "events": list(outcome.events), "repeated": outcome.repeated}


def _sender(sent: Signed, me: Me, header: str | None = None) -> Sender:
    """The key of the body, else of the header `Idempotency-Key`, else a new one: then two presses are two orders.

    Whoever has signed in signs with that name and no other.
    """
    name = me.visitor.name
    if name and sent.by is not None and sent.by != name:
        raise Refusal("not-you", f"You are signed in as {name}, so “by” is {name}; leave it out.")
    key = str(sent.key) if sent.key is not None else _header_key(header) if header else new_key()
    return Sender(name or sent.by or "API", sent.station, key)


def _header_key(header: str) -> str:
    try:
        return read_key(header.strip('"'))
    except ValueError:
        raise Refusal("bad-key", "Idempotency-Key must be a UUID.") from None


@api.get("/runs/{run}/events", response_model=list[LoggedOut], responses={200: {"headers": HEADERS}})
def events(
    run: RunId,
    shell: ShellDep,
    me: MeDep,
    response: Response,
    after: Annotated[PlainInt, Query(ge=0, le=2**53, description="Events with a seq above this one.")] = 0,
) -> list[dict[str, Any]]:
    """The log, in order. While a rehearsal goes on, trouble to come is `Withheld` from those who may not train."""
    live = shell.service.run(run)
    log = tuple(live.log)
    response.headers[HEAD] = head_of(log)
    return told(log[after:], live.state, me.visitor.may)


@api.get(
    "/runs/{run}/live",
    response_class=StreamingResponse,
    responses={200: {"content": {"text/event-stream": {}}, "description": "Server-sent events"}},
)
async def live(request: Request, run: RunId, shell: ShellDep) -> StreamingResponse:
    """Server-sent events: `tick` each second with the figures of the moment, `changed` after each event of the log,
    `beat` when there was nothing else for two seconds.
    """
    await run_in_threadpool(shell.service.run, run)
    return _stream(request, shell, [run])


@api.get(
    "/live",
    response_class=StreamingResponse,
    responses={200: {"content": {"text/event-stream": {}}, "description": "Server-sent events"}},
)
async def live_merged(
    request: Request,
    shell: ShellDep,
    run: Annotated[
        list[Annotated[int, Query(ge=0, le=2**53)]],
        Query(max_length=32, description="Runs to hear of. 0, or none: word of all of them, as the Home page has it."),
    ] = [],  # noqa: B006 - FastAPI copies it
) -> StreamingResponse:
    """Server-sent events of several runs in one stream; each names its `run`. `unknown` is a run that there is not."""
    return _stream(request, shell, run or [HOME])


def _stream(request: Request, shell: Shell, runs: list[int]) -> StreamingResponse:
    session = getattr(request.state, "session", None)
    return StreamingResponse(shell.live.stream(runs, session), headers=AT_ONCE, media_type="text/event-stream")


def _run(shell: Shell, run: int) -> dict[str, Any]:
    found = shell.service.run(run)
    return {
        "run": run,
        "kind": found.stored.kind,
        "revision": found.stored.revision,
        "procedure": found.prepared.procedure.id,
        "title": found.prepared.procedure.title,
        "zero_utc": instant(found.stored.zero_utc),
        "ended_s": found.state.ended_s,
        "imported": found.stored.origin is not None,
    }


def _at(shell: Shell, run: int, at: str) -> Situation:
    return shell.service.situation(run, shell.moment(run, at))


def _situation(shell: Shell, run: int, situation: Situation) -> dict[str, Any]:
    turning, limit = turn_back(situation), situation.limit
    return {
        **_run(shell, run),
        "seq": situation.state.seq,
        "head": log_head(shell, run),
        **situation_report(situation),
        "limit_s": None if limit is None else limit.at_s,
        "limit_by": None if limit is None else limit.by or None,
        "room_s": situation.room_s,
        "turn_back_s": None if turning is None else turning.by_s,
        "turn_back_phase": None if turning is None else turning.phase,
        "put_off": list(situation.state.put_off),
        "taken": list(situation.state.taken),
    }
