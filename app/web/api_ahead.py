"""The JSON API of what is ahead, of what would be if, and of what is watched. It changes nothing."""

from typing import Annotated, Any

from fastapi import APIRouter, Query

from app.core.watch_report import watch_report
from app.web.addresses import RunId
from app.web.depends import ShellDep
from app.web.schemas import PROBLEM
from app.web.schemas_ahead import OutlookOut, TriedOut
from app.web.schemas_watch import WatchOut
from app.web.strict_json import StrictJson

api_ahead = APIRouter(
    prefix="/api",
    tags=["What is ahead"],
    responses=dict.fromkeys((400, 401, 403, 404, 409, 422), PROBLEM),
    route_class=StrictJson,
)

At = Annotated[str, Query(max_length=20, description="Elapsed time that has passed, `h:mm:ss` or whole seconds.")]
If = Annotated[
    list[str],
    Query(
        alias="if",
        min_length=1,
        max_length=10,
        description="Changes, one after another: `EV2 loses 15 min`, `fasten/1 takes 40 min`, `put off photo-survey`, "
        "`swap plug and watch of EV1`.",
    ),
]


@api_ahead.get("/runs/{run}/outlook", response_model=OutlookOut)
def outlook(run: RunId, shell: ShellDep, at: At = "") -> dict[str, Any]:
    """Forecast, what to put off, the best set of optional work, the critical chain: at most 10 s old."""
    from app.core.foresight import outlook_report  # loads numpy

    return outlook_report(shell.lookout.outlook(run, shell.moment(run, at)))


@api_ahead.get("/runs/{run}/what-if", response_model=TriedOut)
def what_if(run: RunId, said: If, shell: ShellDep, at: At = "") -> dict[str, Any]:
    """The run with these changes, beside the run as it stands. Nothing is stored; 409: an order would be refused."""
    from app.core.foresight import tried_report  # loads numpy

    return tried_report(shell.lookout.what_if(run, said, shell.moment(run, at)))


@api_ahead.get("/runs/{run}/watch", response_model=WatchOut)
def watch(run: RunId, shell: ShellDep, at: At = "") -> dict[str, Any]:
    """Holds, polls, rounds, supplies, tools, flags, counts and calls, now or at an elapsed time that has passed."""
    return watch_report(shell.service.situation(run, shell.moment(run, at)))
