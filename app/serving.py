"""Runs the server: refuses what is not safe in words, says where it listens, and stops within seconds."""

import asyncio
import gc
import math
import resource
import socket
import ssl
from collections.abc import Callable, Iterator
from types import FrameType

import uvicorn
from fastapi import FastAPI

from app.bounds import BoundedProtocol
from app.main import address, create_app
from app.notifying import Notice
from app.settings import Settings
from app.store.engine import FILE_NAME
from app.store.opening import open_store, visited
from app.store.people import people
from app.store.store import Store
from app.web.host_names import is_address, never_asked_for, origin_of

STOP_AFTER_S = 0.7
"""Requests under way get this long at a stop, then their connections are cut; streams are ended by us at once."""

BACKLOG = 2_048
"""Connections that may wait to be taken; uvicorn's own figure."""

ENOUGH_FILES = 65_536
FEW_FILES = 2_048
"""Each screen holds a connection, and 1,000 screens are promised."""


class CannotServe(Exception):
    """``str()`` says why, and what to do."""


class _Server(uvicorn.Server):
    """Ends the live streams at the first signal; uvicorn would wait for them for ever."""

    def __init__(self, config: uvicorn.Config, application: FastAPI, started: Callable[[], None]) -> None:
        super().__init__(config)
        self._application = application
        self._started = started
        self._loop: asyncio.AbstractEventLoop | None = None

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        self._loop = asyncio.get_running_loop()
        await super().startup(sockets)
        if self.started and not self.should_exit:
            # What lives now lives long: the collector need not walk it again and again.
            gc.collect()
            gc.freeze()
            gc.set_threshold(50_000, 20, 20)
            self._started()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        shell = getattr(self._application.state, "shell", None)
        letting_go = None if shell is None else asyncio.create_task(asyncio.to_thread(shell.lookout.close))
        cutting = asyncio.get_running_loop().call_later(STOP_AFTER_S, self._cut)
        await super().shutdown(sockets)
        cutting.cancel()
        if letting_go is not None:
            await letting_go
        if shell is not None:
            # Here and not in the application's end: uvicorn ends this process by the signal, and no exit handler runs.
            # A second time: somebody may just have begun to look ahead when it was closed.
            await asyncio.to_thread(shell.lookout.close)

    def _cut(self) -> None:
        """Somebody who has sent half a request, or does not read the answer, would hold up the stop for ever."""
        for connection in tuple(self.server_state.connections):
            connection.transport.abort()

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        if self._loop is not None:
            # In the loop, not here: a signal comes between any two instructions, so also where a stream has found its
            # queue empty and does not wait yet; it would then never hear its end. This also wakes a loop that starts.
            self._loop.call_soon_threadsafe(self._end_what_waits)
        super().handle_exit(sig, frame)

    def _end_what_waits(self) -> None:
        feed, shell = (getattr(self._application.state, name, None) for name in ("feed", "shell"))
        if feed is not None:
            feed.close()
        if shell is not None:
            shell.uploads.close()


def check_host(settings: Settings) -> None:
    """Other machines may use the server only where there are accounts to sign in by.

    Raises:
        CannotServe: no address, or one that others reach and there is no account yet; a name nobody can ask for;
            a proxy that is no address.
    """
    host = settings.host
    if host != "localhost" and not is_address(host):
        raise CannotServe(
            f"{host!r} is not an address; use 127.0.0.1, ::1 or localhost, or an address of this machine. A name by "
            "which others ask for it goes to --known-as."
        )
    for name in settings.known_as:
        if why := never_asked_for(name):
            raise CannotServe(f"--known-as {name!r} would never be asked for: {why}.")
    for proxy in settings.behind:
        if not is_address(proxy):
            raise CannotServe(f"--behind {proxy!r} is not an address; give the one from which the proxy connects.")
    for other in settings.also_at:
        if origin_of(other) is None:
            raise CannotServe(f"--also-at {other!r} is not where a server is: give it as http://NAME:PORT.")
    if not settings.alone and not _has_accounts(settings):
        raise CannotServe(_open_to_others(settings))


def _open_to_others(settings: Settings) -> str:
    whence = f"{settings.host} would let anybody on the network"
    instead = "use --host 127.0.0.1"
    if settings.behind:
        whence, instead = "whoever comes by way of the proxy could", "leave out --behind"
        instead += "" if settings.on_loopback else " and use --host 127.0.0.1"
    return (
        f"Nobody has an account yet, and {whence} mark steps. Add somebody first: "
        f"leadline person add NAME --may keep --data {settings.data}. Or {instead}."
    )


def _has_accounts(settings: Settings) -> bool:
    """Looked up before anything else is opened, so that a refusal leaves no folder behind."""
    if settings.database is not None:
        with visited(settings.database, settings.migrations) as store:
            return any(person.enabled for person in store.read(people))
    if not (settings.data / FILE_NAME).exists():
        return False
    with open_store(settings.data, settings.migrations, address(settings)) as store:
        return any(person.enabled for person in store.read(people))


def certificate(settings: Settings) -> ssl.SSLContext | None:
    """What the server proves itself by, from `tls_cert` and `tls_key`; None without.

    Raises:
        CannotServe: one is missing, or they can't be read or don't belong together.
    """
    cert, key = settings.tls_cert, settings.tls_key
    if cert is None and key is None:
        return None
    if cert is None or key is None:
        raise CannotServe("A certificate needs both --tls-cert and --tls-key, each a file in PEM form.")
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    try:
        context.load_cert_chain(cert, key, password=_no_password)
    except ssl.SSLError as error:
        why = error.reason or str(error)
        raise CannotServe(
            f"{cert} and {key} are no certificate and its key ({why}). Both must be PEM files."
        ) from error
    except OSError as error:
        raise CannotServe(f"{error.filename or cert} can't be read: {error.strerror}.") from error
    return context


def _no_password() -> str:
    raise CannotServe("The key of --tls-key is locked by a password; give one that is not, readable by you alone.")


def bind(host: str, port: int) -> socket.socket:
    """A socket that listens: whoever comes before the server is ready waits, and nobody else can take the port.

    Raises:
        CannotServe: the port is taken, or may not be used.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    found = socket.socket(family, socket.SOCK_STREAM)
    found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        found.bind((host, port))
        found.listen(BACKLOG)
    except OSError as error:
        found.close()
        raise CannotServe(
            f"Port {port} at {host} can't be used: {error.strerror}. Choose another with --port."
        ) from error
    return found


def free_port(host: str, wanted: int) -> int:
    """`wanted` if it is free, else one that is."""
    try:
        bind(host, wanted).close()
    except CannotServe:
        probe = bind(host, 0)
        port = int(probe.getsockname()[1])
        probe.close()
        return port
    return wanted


def serve(
    settings: Settings, say: Callable[[str], None], page: str = "/", then: Callable[[Store], None] | None = None
) -> None:
    """Serve until stopped by a signal. `then` is called when it serves and has said where; it must not take long.

    Raises:
        CannotServe: the address or certificate can't be used. StoreFault, OSError: the data folder can't be.
    """
    check_host(settings)
    sealed, notice = certificate(settings), Notice()
    listening = bind(settings.host, settings.port)
    try:
        # Opened here and not in the application's start, whose errors uvicorn prints as a traceback.
        with open_store(settings.data, settings.migrations, address(settings), settings.database) as store:
            open_to_all = not store.read(people)

            def started() -> None:
                for sentence in _said(settings, open_to_all, page):
                    say(sentence)
                notice.ready(f"Leadline is at {address(settings)}")
                if then is not None:
                    then(store)

            _run(create_app(settings, opened=store), listening, started, sealed)
    finally:
        listening.close()


def _most_connections() -> int:
    """How many files and connections this process may have open, after asking the system for as many as it gives."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = ENOUGH_FILES if hard == resource.RLIM_INFINITY else min(hard, ENOUGH_FILES)
    if soft == resource.RLIM_INFINITY or soft >= wanted:
        return ENOUGH_FILES if soft == resource.RLIM_INFINITY else soft
    resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))
    return wanted


def _said(settings: Settings, open_to_all: bool, page: str) -> Iterator[str]:
    most = _most_connections()
    if most < FEW_FILES:
        yield f"The system lets this server have only {most} connections at once; raise that with ulimit -n."
    if open_to_all and settings.known_as:
        # What stands before it on this machine, as a proxy does, is at this machine, whoever asks it.
        names = " or ".join(settings.known_as)
        yield f"There are no accounts: whoever reaches this server, also as {names} from elsewhere, may do everything."
    elif open_to_all:
        yield "There are no accounts: whoever is at this machine may do everything."
    elif not settings.on_loopback and settings.tls_cert is None:
        yield "Without --tls-cert, passwords and all else cross the network readable to others on it."
    if settings.behind:
        yield f"Who asks, and whether by https, is believed as {' or '.join(settings.behind)} says it."
    everywhere = " (and at every other address of this machine)" if settings.host in ("0.0.0.0", "::") else ""
    yield f"Leadline is at {address(settings)}{page}{everywhere}"


def _run(
    application: FastAPI, listening: socket.socket, started: Callable[[], None], sealed: ssl.SSLContext | None
) -> None:
    config = uvicorn.Config(
        application,
        http=BoundedProtocol,
        ws="none",  # there are no websockets here
        access_log=False,
        proxy_headers=False,  # Believed where a proxy was named, and from there alone: see web.guard.
        log_config=None,  # uvicorn's own wants a standard output; warnings go to the standard error as they are.
        log_level="warning",
        timeout_graceful_shutdown=math.ceil(STOP_AFTER_S),  # in case that cutting them was not enough
        server_header=False,
        lifespan="on",
        ssl_context_factory=None if sealed is None else lambda _config, _default: sealed,
    )
    _Server(config, application, started).run(sockets=[listening])
