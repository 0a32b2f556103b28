"""The shapes of the API, as pydantic models: what is read strictly, what is answered, and how each field is meant."""

from typing import Annotated, Any, Literal
from uuid import UUID

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StrictFloat, StrictInt

At = Annotated[
    str | StrictInt,
    Field(description="Elapsed time: `h:mm` or `h:mm:ss`, or whole seconds as a number.", examples=["1:02:03", 3723]),
]
Text = Annotated[str, Field(max_length=2_000)]
Name = Annotated[str, Field(min_length=1, max_length=60)]


def _printable(text: str) -> str:
    """A name cannot forge a line of a log."""
    if not text.isprintable():
        raise ValueError("write it in printable characters, on one line")
    return text


Label = Annotated[Name, AfterValidator(_printable)]
Id = Annotated[str, Field(min_length=1, max_length=140)]
Number = Annotated[StrictFloat, Field(allow_inf_nan=False)]
Count = Annotated[StrictInt, Field(ge=0, le=2**53)]
Seconds = Annotated[int, Field(description="Whole seconds.")]


class In(BaseModel):
    """What is sent: unknown fields are refused, so that a misspelt one is not silently ignored."""

    model_config = ConfigDict(extra="forbid")


class Signed(In):
    key: UUID | None = Field(
        None, description="A UUID made once per press (version 7 is best). The same key is one press."
    )
    by: Label | None = Field(
        None, description="Who says so: API if left out; where people sign in, the name of the account, and no other."
    )
    station: Label = Field("API", description="Where it was entered.")


class RunIn(Signed):
    procedure: Id = Field(
        description="A procedure's id (its last loaded revision), or a revision's hash or its beginning."
    )
    kind: Literal["live", "rehearsal"] = "live"
    running: At | None = Field(
        None, description="How long the clock has been running already; it starts now if left out."
    )


class Mark(Signed):
    step: Id = Field(description="`task/number`, for example `shut-valves/2`.")
    at: At | None = Field(None, description="When it was done, if earlier than now (heard late). Never in the future.")
    values: dict[Name, Number] = Field(default_factory=dict, description="Recorded values by name.", max_length=50)
    ordered_because: Text | None = Field(
        None, description="The lead's reason, to mark against an open prerequisite. It is logged."
    )


class EventOut(BaseModel):
    seq: int
    kind: str
    at_s: Seconds
    body: dict[str, Any]


class LoggedOut(EventOut):
    logged_s: Seconds
    logged_at: str = Field(description="UTC, RFC 3339.")
    by: str
    station: str
    key: str
    chain: str = Field(description="SHA-256 over the previous chain and this event's canonical JSON.")


class OutcomeOut(BaseModel):
    seq: int = Field(description="The run's last seq after this order.")
    events: list[EventOut]
    repeated: bool = Field(description="The key had been answered before; this is that answer.")


class FaultOut(BaseModel):
    line: int
    column: int
    what: str
    remedy: str
    remark: bool = Field(description="Worth knowing, but no reason to refuse the file.")
    cell: str | None = Field(None, description="Where a table has it: `C5`, in a workbook `Procedure!C5`.")


class ProcedureOut(BaseModel):
    revision: str = Field(description="SHA-256 of the text.")
    procedure: str
    title: str
    source: str
    loaded_at: str
    plan_finish_s: Seconds
    limit_s: int | None


class LoadedOut(ProcedureOut):
    is_new: bool
    remarks: list[FaultOut]


class CarriedOut(BaseModel):
    procedure: str = Field(description="Its id.")
    text: str = Field(description="The YAML text of the procedure file; it can be loaded as it is.")


class PlanStepOut(BaseModel):
    id: str
    start_s: Seconds
    finish_s: Seconds
    late_start_s: Seconds
    late_finish_s: Seconds
    float_s: Seconds
    critical: bool


class PlanOut(BaseModel):
    plan_finish_s: Seconds
    steps: list[PlanStepOut]


class CrewOut(BaseModel):
    lead_s: Seconds
    next: str | None


class StepOut(BaseModel):
    id: str
    state: Literal["waiting", "ready", "under way", "done", "put off", "not needed"]
    start_s: Seconds
    finish_s: Seconds


class OfferOut(BaseModel):
    task: str
    who: list[str]
    eligible: bool
    reason: str | None
    lead_after_s: int | None
    finish_after_s: int | None


class RunOut(BaseModel):
    run: int
    kind: str
    revision: str
    procedure: str
    title: str
    zero_utc: str
    ended_s: int | None
    imported: bool = Field(description="Made elsewhere and kept as a record: it takes no orders here.")


class SituationOut(RunOut):
    seq: int = Field(description="The last event counted.")
    head: str = Field(description="`SEQ:HASH` of the log now: kept elsewhere, it shows whether it was changed.")
    at_s: Seconds
    plan_finish_s: Seconds
    projected_finish_s: Seconds
    lead_s: Seconds = Field(description="Plan finish minus projected finish: positive is ahead.")
    limit_s: int | None = Field(description="The file's limit, or when a supply is at its reserve, if that is sooner.")
    limit_by: str | None = Field(description="Which supply sets the limit, in words; null for the file's own.")
    room_s: int | None
    turn_back_s: int | None = Field(description="The last second at which close-out can start and end by the limit.")
    turn_back_phase: Literal["later", "soon", "passed"] | None = Field(
        description="Null without a limit or close-out, once close-out is begun, and when the run has ended. `passed` "
        "without `turn_back_s`: no start of close-out ends by the limit."
    )
    crew: dict[str, CrewOut]
    steps: list[StepOut]
    get_ahead: list[OfferOut]
    put_off: list[str]
    taken: list[str]


class Problem(BaseModel):
    """An error, as RFC 9457 has it. `code` names the kind; `state` is the run as it stands, where that helps."""

    type: str = "about:blank"
    title: str
    status: int
    detail: str
    code: str | None = None
    may_order: bool | None = Field(None, description="The lead may order it all the same, with `ordered_because`.")
    faults: list[FaultOut] | None = None
    state: dict[str, Any] | None = None


PROBLEM: dict[str, Any] = {"model": Problem, "content": {"application/problem+json": {}}}
"""How a route describes an error of its own."""

SENT: dict[int | str, dict[str, Any]] = dict.fromkeys((401, 403, 409, 413, 415, 503, 507), PROBLEM)
"""What a POST may be answered with: not signed in, not allowed, not now, too large, wrong kind, no store, no room."""
