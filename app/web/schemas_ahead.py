"""The JSON of what is ahead: forecast, options, best set, critical chain, what if. It checks only its own form."""

from pydantic import BaseModel, Field

from app.web.schemas import CrewOut, Seconds

Chance = int | None
"""Whole per cent, 1 to 99."""


class SpreadOut(BaseModel):
    ten_in_a_hundred_by_s: Seconds
    half_by_s: Seconds
    nine_in_ten_by_s: Seconds
    chance: Chance = Field(description="To finish by the limit, per cent from 1 to 99; null without a limit.")


class WindowOut(BaseModel):
    window: str
    task: str
    opens_s: Seconds
    closes_s: Seconds
    chance: int = Field(description="That what is left of the task in this opening ends before it closes, per cent.")


class ForecastOut(BaseModel):
    draws: int
    team: SpreadOut
    crew: dict[str, SpreadOut] = Field(description="Of each person's own list, those with an open step only.")
    windows: list[WindowOut]


class OptionOut(BaseModel):
    tasks: list[str]
    along: list[str] = Field(description="Those of `tasks` that go only because they depend on others of them.")
    worth_lost: int
    wins_s: int
    finish_s: Seconds
    lead_s: int
    room_s: int | None
    chance: Chance
    meets_plan: bool
    meets_limit: bool
    exact: bool = Field(description="No other choice loses as little worth and finishes as early; else the best found.")


class PuttingOffOut(BaseModel):
    exact: bool = Field(description="Every choice was ruled on: no option is missing.")
    of: int = Field(description="How many tasks there are to choose from.")
    options: list[OptionOut]


class BestSetOut(BaseModel):
    tasks: list[str]
    lead_after_s: int
    finish_after_s: Seconds
    chance: Chance
    exact: bool


class LinkOut(BaseModel):
    step: str
    who: list[str]
    start_s: Seconds
    finish_s: Seconds
    because: str
    gain_s: int = Field(description="How much sooner the team would finish if this step were over at once.")


class OutlookOut(BaseModel):
    at_s: Seconds
    seq: int
    forecast: ForecastOut | None = Field(description="Null when nothing is left to do.")
    putting_off: PuttingOffOut
    best_set: BestSetOut | None = Field(description="Null when no two optional items fit together now.")
    critical_chain: list[LinkOut]


class ChangeOut(BaseModel):
    said: str
    would_log: str


class StandingOut(BaseModel):
    lead_s: int
    projected_finish_s: Seconds
    room_s: int | None
    crew: dict[str, CrewOut]
    forecast: ForecastOut | None


class TriedOut(BaseModel):
    changes: list[ChangeOut]
    present: StandingOut
    then: StandingOut
