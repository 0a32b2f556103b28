"""The JSON of durations over past runs, as the API answers it. It checks only its own form."""

from typing import Literal

from pydantic import BaseModel, Field

from app.web.schemas import Seconds


class TakesOut(BaseModel):
    optimistic_s: int | None = Field(description="Null where the file gives the likely one alone.")
    likely_s: Seconds
    pessimistic_s: int | None


class TookOut(BaseModel):
    run: int
    took_s: Seconds


class LeftOutOut(BaseModel):
    run: int
    why: str = Field(description="In words, why the run does not tell how long this step takes.")


class AskedRunOut(BaseModel):
    run: int
    kind: Literal["live", "rehearsal"]
    revision: str
    ended: bool | None = Field(description="Null of a run that was not read.")
    asked: bool
    why: str | None = Field(description="Why it was not asked, although it was chosen.")


class StepDurationsOut(BaseModel):
    id: str
    do: str
    who: list[str]
    planned: TakesOut
    n: int = Field(description="The runs that count.")
    median_s: float | None
    low_s: float | None = Field(description="A tenth of the runs took less (Hyndman and Fan, type 7).")
    high_s: float | None = Field(description="Nine tenths of the runs took less.")
    ratio: float | None = Field(description="The median over the likely duration of the plan.")
    planned_median_s: float | None = Field(description="The median of what the plan's three points say.")
    ratio_to_median: float | None = Field(description="The median over that of the plan.")
    took: list[TookOut]
    left_out: list[LeftOutOut]
    proposed: TakesOut
    weight: float = Field(description="What the runs weigh in the proposal, 0 to 1; the plan has the rest.")
    changed: bool = Field(description="Whether the proposal says something else than the plan.")
    reason: str


class DurationsOut(BaseModel):
    revision: str
    procedure: str
    title: str
    kind: Literal["live", "rehearsal", "both"]
    simulated: bool = Field(description="Whether what simulated people did counts too.")
    runs: list[AskedRunOut] = Field(description="All runs of the procedure, the newest first.")
    steps: list[StepDurationsOut]
