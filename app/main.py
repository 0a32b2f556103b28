"""`create_app(settings)`: the application, put together. Nothing happens at import."""

import asyncio
import logging
import mimetypes
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib.metadata import version

from fastapi import Depends, FastAPI
from fastapi.staticfiles import StaticFiles

from app.feed import Feed
from app.service.lookout import Lookout
from app.service.neighbours import Neighbours
from app.service.people import People
from app.service.players import Players
from app.service.runs import Service
from app.settings import Settings
from app.store.clock import ServerClock
from app.store.faults import StoreFault, StoreFull
from app.store.opening import open_store
from app.store.store import Store
from app.web import errors, guard
from app.web.access import token_checked
from app.web.actions import actions
from app.web.api import api
from app.web.api_ahead import api_ahead
from app.web.api_debrief import api_debrief
from app.web.api_people import api_people
from app.web.api_procedures import api_procedures
from app.web.debrief_pages import debrief_pages
from app.web.depends import Shell
from app.web.durations_pages import durations_pages
from app.web.files import files
from app.web.help import helping
from app.web.host_names import origin_of
from app.web.in_turn import InTurn
from app.web.library import IMPORT, LARGEST_SENT, library
from app.web.live import Live
from app.web.pages import pages
from app.web.people_pages import people_pages
from app.web.render import Renderer
from app.web.run_files import run_files
from app.web.sheets import sheets
from app.web.spare import spare
from app.web.time_api import time_api
from app.web.uploads import Uploads

logger = logging.getLogger(__name__)

LARGEST_BODY = 600 * 1024
"""A procedure file may have 512 KB; a little more for the form around it."""

STATIC_TYPES = {".webp": "image/webp", ".woff2": "font/woff2"}
"""Python 3.11 knows these only from the system's own list, which a bare machine lacks; unnamed, no browser shows a
picture. RFC 9649 and RFC 8081."""

ROUTERS = (
    *(api_procedures, api, api_ahead, api_debrief, api_people, time_api, actions, people_pages),
    # Those of particular addresses before the pages, which would take "template.csv" for a revision.
    *(files, run_files, library, sheets, durations_pages, spare, debrief_pages, helping, pages),
)
"""In the order in which they are asked whether an address is theirs."""

SWEEP_S = 30
LOOK_S = 1.0
PLAY_S = 1.0
"""Simulated people look so often what is theirs to do."""


def address(settings: Settings) -> str:
    """Where the server is, as a browser takes it."""
    scheme = "https" if settings.tls_cert else "http"
    return f"{scheme}://{f'[{settings.host}]' if ':' in settings.host else settings.host}:{settings.port}"


async def _sweep_forever(people: People) -> None:
    """End the streams of those whose session has run out; their requests are refused to the second without this."""
    while True:
        await asyncio.sleep(SWEEP_S)
        try:
            await asyncio.to_thread(people.sweep)
        except StoreFault as fault:
            logger.warning("what became of a session is not stored yet: %s", fault)


async def _look_forever(neighbours: Neighbours) -> None:
    """What another server told and could not be read is tried again."""
    while True:
        await asyncio.sleep(LOOK_S)
        if neighbours.owes:
            await asyncio.to_thread(neighbours.look)


async def _play_forever(players: Players) -> None:
    """Beside the ticks, so that neither waits for the other; after a look that was dear, later."""
    while True:
        began = time.monotonic()
        try:
            await asyncio.to_thread(players.play)
        except Exception:
            logger.exception("simulated people do nothing")
        spent = time.monotonic() - began
        await asyncio.sleep(max(PLAY_S - spent, spent))


@asynccontextmanager
async def _lifespan(
    app: FastAPI, settings: Settings, clock: ServerClock | None, opened: Store | None
) -> AsyncIterator[None]:
    store = opened or open_store(settings.data, settings.migrations, address(settings), settings.database)
    feed = app.state.feed = Feed()
    try:
        shell = app.state.shell = _shell(settings, Service(store, clock), feed)
        try:
            await shell.uploads.load_folder(settings.procedures)
        except StoreFull as fault:
            logger.warning("the procedures were not loaded: %s", fault)  # What is stored can still be shown.
        _tell_screens(shell)
        async with _beside(shell):
            yield
    finally:
        feed.close()
        await asyncio.to_thread(store.close)


def _shell(settings: Settings, service: Service, feed: Feed) -> Shell:
    lookout, people = Lookout(service), People(service.store, service.clock)
    elsewhere = tuple(origin for each in settings.also_at if (origin := origin_of(each)))
    renderer = Renderer(settings.templates, version("leadline"), elsewhere)
    live, uploads = Live(service, lookout, feed), Uploads(service.shelf)
    return Shell(settings, service, lookout, renderer, live, people, feed, InTurn(), uploads)


def _tell_screens(shell: Shell) -> None:
    """What is stored in other threads is told to the screens in the loop's own."""
    loop = asyncio.get_running_loop()

    def tell(run: int, seq: int) -> None:
        loop.call_soon_threadsafe(shell.live.reached, run, seq)

    def signed_out(session: str) -> None:
        loop.call_soon_threadsafe(shell.feed.end_session, session)

    shell.service.listen(tell)
    shell.people.listen(signed_out)


@asynccontextmanager
async def _beside(shell: Shell) -> AsyncIterator[None]:
    """What goes on as long as the server does."""
    players, neighbours = Players(shell.service), Neighbours(shell.service, shell.people)
    forever = (
        shell.live.run_forever(),
        _sweep_forever(shell.people),
        _look_forever(neighbours),
        _play_forever(players),
    )
    tasks = [asyncio.create_task(each) for each in forever]
    yield
    players.stop()
    shell.uploads.close()
    shell.in_turn.close()
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)


def create_app(settings: Settings, clock: ServerClock | None = None, opened: Store | None = None) -> FastAPI:
    """The application over one data folder.

    The store is opened when the application starts, unless one is handed over `opened`, and closed when it stops.
    """
    app = FastAPI(
        title="Leadline",
        version=version("leadline"),
        summary="An offline web checklist runner for live crewed operations.",
        description="The tool advises. It does not replace the person in charge, approved procedures, local codes or "
        "licensed practice.",
        docs_url=None,  # FastAPI's own page loads from a CDN; /api/docs serves vendored files.
        redoc_url=None,
        openapi_url="/api/openapi.json",
        lifespan=lambda app: _lifespan(app, settings, clock, opened),
        dependencies=[Depends(token_checked)],
        swagger_ui_oauth2_redirect_url=None,
    )
    errors.install(app)
    guard.install(app, settings, LARGEST_BODY, {IMPORT: LARGEST_SENT})
    for router in ROUTERS:
        app.include_router(router)
    for ending, kind in STATIC_TYPES.items():
        mimetypes.add_type(kind, ending)
    app.mount("/static", StaticFiles(directory=settings.static), name="static")
    return app
