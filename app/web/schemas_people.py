"""The shapes of the API of signing in, as pydantic models."""

from typing import Literal

from pydantic import BaseModel, Field

from app.web.schemas import In, Label


class SessionIn(In):
    name: str = Field(max_length=200)
    password: str = Field(max_length=1_000)
    station: Label = Field("API", description="Where from, for the log.")


class SessionOut(BaseModel):
    token: str = Field(description="Keep it secret: whoever sends it is taken for this person.")
    name: str
    ends_at: str = Field(description="UTC; sign in again by then.")


class MeOut(BaseModel):
    name: str | None = Field(description="None where there are no accounts.")
    may: Literal["watch", "mark", "lead", "train", "keep"]
    open: bool = Field(description="There are no accounts, and whoever is at this machine may do everything.")
    token: str = Field(description="What the page's forms carry, or the header X-Leadline-Token.")
    station: str
