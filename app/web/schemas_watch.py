"""The shapes of what is watched beside the steps, as the API answers them."""

from typing import Literal

from pydantic import BaseModel, Field

Elapsed = int


class CalledOut(BaseModel):
    """A step that was called complete and is not done yet."""

    step: str
    at_s: Elapsed
    by: str
    values: dict[str, float]
    waits_for: list[str]


class AnswerOut(BaseModel):
    person: str
    go: bool
    at_s: Elapsed
    reason: str
    by: str = Field(description="Who entered it.")
    heard: bool = Field(description="It was said on the voice loop, and entered by somebody else.")


class HoldOut(BaseModel):
    step: str
    reached: bool = Field(description="Nothing is open before it.")
    missing: list[str]
    answers: list[AnswerOut]


class PollOut(BaseModel):
    poll: str
    question: str
    who: list[str]
    called_s: Elapsed
    closed_s: Elapsed | None
    closed_because: str
    missing: list[str]
    answers: list[AnswerOut]


class MadeOut(BaseModel):
    seq: int
    at_s: Elapsed
    good: bool
    answer: str
    by: str


class RoundOut(BaseModel):
    round: str
    person: str | None
    due_s: Elapsed
    phase: Literal["later", "soon", "due", "overdue"]
    last: MadeOut | None


class ReadingOut(BaseModel):
    seq: int
    at_s: Elapsed
    value: float
    anew: bool


class SupplyOut(BaseModel):
    supply: str
    person: str | None
    unit: str
    reserve: float
    readings: list[ReadingOut] = Field(description="Since it was last exchanged or filled, in order of time.")
    rate_per_hour: float | None = Field(description="Slope of the least-squares line; below 0 it falls.")
    reserve_at_s: float | None
    why_not: str | None = Field(description="Why there is no time to reserve, in words.")


class ToolOut(BaseModel):
    """`how` is null for a tool without a record: it was never taken out."""

    tool: str
    how: str | None
    person: str | None
    where: str
    reason: str
    at_s: Elapsed | None


class FlagOut(BaseModel):
    flag: int = Field(description="The seq of the event that raised it.")
    at_s: Elapsed
    by: str
    text: str
    step: str | None
    person: str | None
    round: str | None


class WatchOut(BaseModel):
    """Times are elapsed seconds."""

    at_s: Elapsed
    called: list[CalledOut]
    counts: dict[str, list[Elapsed]] = Field(description="Of each counted step, when each action was done.")
    holds: list[HoldOut]
    polls: list[PollOut]
    rounds: list[RoundOut]
    supplies: list[SupplyOut]
    tools: list[ToolOut]
    flags: list[FlagOut]
