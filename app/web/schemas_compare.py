"""The JSON of runs beside each other, as the API answers it. It checks only its own form."""

from pydantic import BaseModel, Field

from app.web.schemas import Seconds
from app.web.schemas_debrief import PersonRunOut, Shift


class RanOut(BaseModel):
    run: int
    revision: str
    kind: str
    ended: bool
    at_s: Seconds
    plan_finish_s: Seconds
    finish_s: Seconds = Field(description="Of a run that goes on: as projected.")
    lead_s: int


class RangeOut(BaseModel):
    n: int
    least_s: int
    median_s: float
    most_s: int


class StepCellOut(BaseModel):
    plan_finish_s: int | None
    finish_s: int | None
    took_s: int | None
    shift_s: Shift
    since_first_s: int | None = Field(description="Later than in the first of the runs; below 0 earlier.")
    state: str


class StepAcrossOut(BaseModel):
    id: str
    task: str
    task_title: str
    do: str
    who: list[str]
    cells: list[StepCellOut | None] = Field(description="In the order of the runs; null where one has no such step.")
    finish: RangeOut | None
    took: RangeOut | None
    shift: RangeOut | None


class PersonAcrossOut(BaseModel):
    designator: str
    cells: list[PersonRunOut | None]
    finish: RangeOut | None
    worked: RangeOut | None
    waited: RangeOut | None
    lead: RangeOut | None


class UnmatchedOut(BaseModel):
    run: int
    id: str
    do: str
    why: str


class ComparingOut(BaseModel):
    runs: list[RanOut]
    steps: list[StepAcrossOut]
    people: list[PersonAcrossOut]
    unmatched: list[UnmatchedOut] = Field(description="Steps that only one of the runs has.")
    finish: RangeOut | None
    lead: RangeOut | None
