"""The server's time for a station that asks how far its own clock is off. It touches no store and sets no clock."""

from datetime import datetime

from fastapi import APIRouter
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field

from app.web.depends import ShellDep
from app.web.schemas import PROBLEM
from app.web.time_told import TimeTold

time_api = APIRouter(prefix="/api", tags=["Leadline"], responses=dict.fromkeys((400, 401, 403), PROBLEM))


class TimeOut(BaseModel):
    """Two readings of the server's UTC, T2 and T3 of RFC 5905, 8."""

    received_ms: float = Field(description="When the request had come in: milliseconds since 1970-01-01T00:00:00Z.")
    sent_ms: float = Field(description="When the answer was about to go out.")
    server: str = Field(description="Which process of the server answers; its steady clock is no other's.")
    steady_ms: float = Field(description="What its steady clock showed then, in milliseconds. Streams tell it too.")


@time_api.get("/time", response_model=TimeOut)
async def time_now(shell: ShellDep) -> JSONResponse:
    """The server's time, by which all runs go, for the offset of a station's clock."""
    received = shell.service.clock.utc()
    clock = shell.service.clock
    return JSONResponse({"received_ms": _ms(received), "sent_ms": _ms(clock.utc()), **TimeTold(clock).steady()})


def _ms(at: datetime) -> float:
    return at.timestamp() * 1000
