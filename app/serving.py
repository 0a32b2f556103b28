"""Runs the server: refuses what is not safe in words, says where it listens, and stops within seconds."""

import asyncio
import gc
import ipaddress
import socket
from collections.abc import Callable
from types import FrameType

import uvicorn
from fastapi import FastAPI

from app.main import address, create_app
from app.settings import Settings
from app.store.store import Store

STOP_AFTER_S = 3
"""Requests under way get this long at a stop; streams are ended by us at once."""


class CannotServe(Exception):
    """``str()`` says why, and what to do."""


class _Server(uvicorn.Server):
    """Ends the live streams at the first signal; uvicorn would wait for them for ever."""

    def __init__(self, config: uvicorn.Config, application: FastAPI, started: Callable[[], None]) -> None:
        super().__init__(config)
        self._application = application
        self._started = started

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            # What lives now lives long: the collector need not walk it again and again.
            gc.collect()
            gc.freeze()
            gc.set_threshold(50_000, 20, 20)
            self._started()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        shell = getattr(self._application.state, "shell", None)
        await super().shutdown(sockets)
        if shell is not None:
            # Here and not in the application's end: uvicorn ends this process by the signal, and no exit handler runs.
            await asyncio.to_thread(shell.lookout.close)

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        feed = getattr(self._application.state, "feed", None)
        if feed is not None:
            feed.close()
        super().handle_exit(sig, frame)


def check_host(host: str) -> None:
    """Only this machine's own addresses until there are accounts.

    Raises:
        CannotServe: another address.
    """
    if host == "localhost":
        return
    try:
        local = ipaddress.ip_address(host).is_loopback
    except ValueError:
        raise CannotServe(f"{host} is not an address; use 127.0.0.1, ::1 or localhost.") from None
    if not local:
        raise CannotServe(
            f"Leadline has no accounts yet, so it serves only this machine: {host} would let anybody on the network "
            "mark steps. Use --host 127.0.0.1."
        )


def bind(host: str, port: int) -> socket.socket:
    """A bound socket.

    Raises:
        CannotServe: the port is taken, or may not be used.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    found = socket.socket(family, socket.SOCK_STREAM)
    found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        found.bind((host, port))
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


def serve(settings: Settings, say: Callable[[str], None], page: str = "/") -> None:
    """Serve until stopped by a signal.

    Raises:
        CannotServe: the address can't be used. StoreFault, OSError: the data folder can't be.
    """
    check_host(settings.host)
    listening = bind(settings.host, settings.port)
    try:
        # Opened here and not in the application's start, whose errors uvicorn prints as a traceback.
        with Store(settings.data, settings.migrations, address(settings)) as store:
            _run(
                create_app(settings, opened=store), listening, lambda: say(f"Leadline is at {address(settings)}{page}")
            )
    finally:
        listening.close()


def _run(application: FastAPI, listening: socket.socket, started: Callable[[], None]) -> None:
    config = uvicorn.Config(
        application,
        access_log=False,
        log_level="warning",
        timeout_graceful_shutdown=STOP_AFTER_S,
        server_header=False,
        lifespan="on",
    )
    _Server(config, application, started).run(sockets=[listening])
