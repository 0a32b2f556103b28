"""What routes are given: the service, the renderer, the live stream, and who is at this station."""

from dataclasses import dataclass
from typing import Annotated, cast
from urllib.parse import quote, unquote

from fastapi import Depends, Request

from app.core.commands import in_address, moment
from app.service.lookout import Lookout
from app.service.runs import Service
from app.service.values import Sender
from app.settings import Settings
from app.web.live import Live
from app.web.render import Renderer

NAME_COOKIE = "leadline_name"
DEFAULT_NAME = "Ground support"
LONGEST_NAME = 40


@dataclass(frozen=True, slots=True)
class Shell:
    """Everything a route may call, put on the application's state when it starts."""

    settings: Settings
    service: Service
    lookout: Lookout
    renderer: Renderer
    live: Live

    def moment(self, run: int, at: str) -> int | None:
        """The elapsed second that an address asks for; None without one. Raises NoSuchRun, Refusal."""
        return moment(in_address(at), self.service.run(run).now_s()) if at else None


def shell(request: Request) -> Shell:
    return cast(Shell, request.app.state.shell)


@dataclass(frozen=True, slots=True)
class Me:
    """This station and the name that it signs with. With accounts (not yet) the name will come from the session."""

    station: str
    name: str

    def sender(self, key: str) -> Sender:
        return Sender(by=self.name, station=self.station, key=key)


def me(request: Request) -> Me:
    """The station is a label for the log, not a proof of anything; `guard.Stations` gives it its cookie."""
    name = clean_name(unquote(request.cookies.get(NAME_COOKIE, "")))
    return Me(f"station {request.state.station}", name or DEFAULT_NAME)


def clean_name(text: str) -> str:
    """Printable characters only, single spaces, at most LONGEST_NAME: a name cannot forge a line of a log."""
    kept = "".join(sign if sign.isprintable() else " " for sign in text)
    return " ".join(kept.split())[:LONGEST_NAME]


def name_cookie(name: str) -> str:
    """A name as a cookie can carry it: headers are Latin-1, names are not."""
    return quote(clean_name(name), safe="")


ShellDep = Annotated[Shell, Depends(shell)]
MeDep = Annotated[Me, Depends(me)]
