"""What routes are given: the service, the renderer, the live stream, and who is at this station."""

from dataclasses import dataclass
from typing import Annotated, cast
from urllib.parse import quote, unquote

from fastapi import Depends, Request
from starlette.concurrency import run_in_threadpool

from app.core.commands import in_address, moment
from app.feed import Feed
from app.service.lookout import Lookout
from app.service.passwords import is_seen
from app.service.people import People
from app.service.runs import Service
from app.service.values import Sender
from app.settings import Settings
from app.web.in_turn import InTurn
from app.web.live import Live
from app.web.render import Renderer
from app.web.uploads import Uploads
from app.web.visitor import Visitor

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
    people: People
    feed: Feed
    in_turn: InTurn
    uploads: Uploads

    @property
    def alone(self) -> bool:
        """Whether only this machine reaches the server, so that it may do without accounts."""
        return self.settings.alone

    def session_cookie(self, request: Request) -> str:
        """Cookies know no port (RFC 6265, 8.5), so it is in the name: another server here is signed in to by itself.

        Servers of one database have one name: who is signed in at one is at the other.
        """
        return cookie_name(f"leadline_session_{self._place}", self.sealed(request))

    def device_cookie(self, request: Request) -> str:
        """What tells a browser that was signed in before; see `service.throttle`."""
        return cookie_name(f"leadline_device_{self._place}", self.sealed(request))

    @property
    def _place(self) -> str:
        return self.people.database if self.service.store.shared else str(self.settings.port)

    def sealed(self, request: Request) -> bool:
        """Whether the browser asks by https: with a certificate of ours always, by way of a proxy if that says so."""
        return self.settings.tls_cert is not None or request.url.scheme == "https"

    async def ready(self, run: int) -> None:
        """Read a run that is not in memory yet, beside the event loop. Raises NoSuchRun, Refused."""
        if not self.service.holds(run):
            await run_in_threadpool(self.service.run, run)

    def moment(self, run: int, at: str) -> int | None:
        """The elapsed second that an address asks for; None without one. Raises NoSuchRun, Refusal."""
        return moment(in_address(at), self.service.run(run).now_s()) if at else None


def cookie_name(name: str, sealed: bool) -> str:
    """With a certificate the browser holds the cookie to this host and to https (RFC 6265bis, 4.1.3.2).

    A name of its own, too: a server at another port of this host, without a certificate, could not set it any more.
    """
    return f"__Host-{name}" if sealed else name


def shell(request: Request) -> Shell:
    return cast(Shell, request.app.state.shell)


@dataclass(frozen=True, slots=True)
class Me:
    """This station, the name that it signs with, and who that is."""

    station: str
    name: str
    visitor: Visitor

    def sender(self, key: str) -> Sender:
        return Sender(by=self.name, station=self.station, key=key)


def me(request: Request) -> Me:
    """The name is the account's; without accounts it is what was typed on the Home page, on trust.

    The station is a label for the log, not a proof of anything; `guard.Stations` gives it its cookie.
    """
    visitor: Visitor = request.state.visitor
    typed = request.cookies.get(cookie_name(NAME_COOKIE, request.url.scheme == "https"), "")
    name = visitor.name or clean_name(unquote(typed))
    return Me(f"station {visitor.station}", name or DEFAULT_NAME, visitor)


def clean_name(text: str) -> str:
    """Printable characters only, single spaces, at most LONGEST_NAME: a name cannot forge a line of a log."""
    kept = "".join(sign if is_seen(sign) else " " for sign in text)
    return " ".join(kept.split())[:LONGEST_NAME]


def name_cookie(name: str) -> str:
    """A name as a cookie can carry it: headers are Latin-1, names are not."""
    return quote(clean_name(name), safe="")


ShellDep = Annotated[Shell, Depends(shell)]
MeDep = Annotated[Me, Depends(me)]
