"""The JSON of a debrief, as the API answers it. It checks only its own form."""

from pydantic import BaseModel, Field

from app.web.schemas import Seconds

Shift = int | None
"""Seconds later than planned; below 0 earlier; null where there is no plan or no finish."""


class KnownOut(BaseModel):
    lead_s: int
    finish_s: Seconds
    room_s: int | None = Field(description="Before the limit; null without one.")


class StepRunOut(BaseModel):
    id: str
    task: str
    task_title: str
    do: str
    who: list[str]
    plan_start_s: int | None
    plan_finish_s: int | None
    takes_s: Seconds
    start_s: int | None
    finish_s: int | None
    start_known: bool = Field(description="The start was recorded, and not worked out.")
    state: str | None = Field(description="Null for a get-ahead item that was not taken.")
    by: str
    took_s: int | None
    finish_shift_s: Shift


class TaskRunOut(BaseModel):
    id: str
    title: str
    who: list[str]
    plan_start_s: int | None
    plan_finish_s: int | None
    start_s: int | None
    finish_s: int | None
    done: int
    of: int
    state: str
    finish_shift_s: Shift


class PersonRunOut(BaseModel):
    designator: str
    plan_start_s: int | None
    plan_finish_s: int | None
    plan_work_s: Seconds
    start_s: int | None
    finish_s: int | None
    worked_s: Seconds
    waited_s: Seconds = Field(description="From the first start to the last finish, when no step of theirs was on.")
    done: int
    of: int
    lead_s: int


class MoveOut(BaseModel):
    how: str = Field(description="`with an entry`, `ran over`, `waited at a hold` or `missed a window`.")
    from_s: Seconds
    to_s: Seconds
    lead_s: int = Field(description="Won above 0, lost below. All of one lead add up to it at the end.")
    step: str | None
    seq: int | None = Field(description="The entry; null for what ran on between entries.")
    times: int
    words: str


class LeadStoryOut(BaseModel):
    team: list[MoveOut]
    people: dict[str, list[MoveOut]]


class PointOut(BaseModel):
    at_s: Seconds
    team_s: int
    people: dict[str, int]


class WaitedOut(BaseModel):
    person: str
    waited_s: Seconds
    go_s: int | None


class SaidOut(BaseModel):
    person: str
    at_s: Seconds
    go: bool
    reason: str
    by: str
    heard: bool


class HoldRunOut(BaseModel):
    step: str
    do: str
    who: list[str]
    reached_s: Seconds
    done_s: int | None
    waited_s: Seconds
    waits: list[WaitedOut] = Field(description="The longest first.")
    answers: list[SaidOut]
    after_s: int | None = Field(description="From the last go to the mark.")


class PollRunOut(BaseModel):
    poll: str
    question: str
    by: str
    called_s: Seconds
    closed_s: int | None
    closed_because: str
    waited_s: Seconds
    waits: list[WaitedOut]
    answers: list[SaidOut]


class TurnOut(BaseModel):
    at_s: Seconds
    seq: int
    by: str
    what: str
    words: str


class WorkRunOut(BaseModel):
    task: str
    title: str
    who: list[str]
    get_ahead: bool
    turns: list[TurnOut]
    start_s: int | None
    finish_s: int | None
    offered: list[int] = Field(description="The moments, of `looked` that were looked at, at which it could be taken.")
    looked: int
    fate: str


class CarriedRunOut(BaseModel):
    task: str
    title: str
    steps: int
    why: str


class RoundMadeOut(BaseModel):
    due_s: Seconds
    at_s: Seconds
    good: bool
    answer: str
    by: str
    late_s: int


class RoundRunOut(BaseModel):
    round: str
    asks: str
    person: str
    every_s: Seconds
    made: list[RoundMadeOut]
    latest_s: Seconds
    overdue: int
    due_s: Seconds
    missed_s: int | None


class ReadOut(BaseModel):
    at_s: Seconds
    seq: int
    value: float
    anew: bool


class GaugeRunOut(BaseModel):
    supply: str
    person: str
    unit: str
    reserve: float
    readings: list[ReadOut]
    lowest: ReadOut | None
    rate_per_hour: float | None
    until_s: int | None
    left_s: int | None
    why_not: str


class ToolMoveOut(BaseModel):
    at_s: Seconds
    words: str


class ToolRunOut(BaseModel):
    tool: str
    fate: str = Field(description="`lost`, `out`, `left outside`, `stowed` or `no record`.")
    words: str
    moves: list[ToolMoveOut]


class DecisionOut(BaseModel):
    seq: int
    at_s: Seconds
    logged_s: Seconds
    by: str
    words: list[str]
    before: KnownOut = Field(description="What the screens showed when it was entered.")
    after: KnownOut = Field(description="The same second, with the order in it.")


class RemarkOut(BaseModel):
    at_s: Seconds
    seq: int
    by: str
    words: str
    step: str | None
    person: str | None


class DebriefOut(BaseModel):
    at_s: Seconds
    ended: bool = Field(description="False: the run goes on, and this is so far.")
    end_reason: str
    plan_finish_s: Seconds
    limit_s: int | None
    limit_words: str
    at_end: KnownOut
    steps: list[StepRunOut]
    tasks: list[TaskRunOut]
    people: list[PersonRunOut]
    lead: LeadStoryOut
    points: list[PointOut] = Field(description="The leads wherever one of them turns; in between they run straight.")
    holds: list[HoldRunOut]
    polls: list[PollRunOut]
    work: list[WorkRunOut]
    carried: list[CarriedRunOut]
    rounds: list[RoundRunOut]
    gauges: list[GaugeRunOut]
    tools: list[ToolRunOut]
    decisions: list[DecisionOut]
    remarks: list[RemarkOut]
