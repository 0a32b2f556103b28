"""`create_app(settings)`: the application, put together. Nothing happens at import."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib.metadata import version

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles

from app.feed import Feed
from app.service.lookout import Lookout
from app.service.runs import Service
from app.settings import Settings
from app.store.clock import ServerClock
from app.store.store import Store
from app.web import errors, guard
from app.web.actions import actions
from app.web.api import api
from app.web.api_ahead import api_ahead
from app.web.depends import Shell
from app.web.files import files
from app.web.live import Live
from app.web.pages import pages
from app.web.render import Renderer
from app.web.sheets import sheets

LARGEST_BODY = 600 * 1024
"""A procedure file may have 512 KB; a little more for the form around it."""


def address(settings: Settings) -> str:
    """Where the server is, as a browser takes it."""
    return f"http://{f'[{settings.host}]' if ':' in settings.host else settings.host}:{settings.port}"


def create_app(settings: Settings, clock: ServerClock | None = None, opened: Store | None = None) -> FastAPI:
    """The application over one data folder.

    The store is opened when the application starts, unless one is handed over `opened`, and closed when it stops.
    """

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        store = opened or Store(settings.data, settings.migrations, address(settings))
        feed = app.state.feed = Feed()
        try:
            service = Service(store, clock)
            lookout = Lookout(service)
            live = Live(service, lookout, feed)
            renderer = Renderer(settings.templates, version("leadline"))
            app.state.shell = Shell(settings, service, lookout, renderer, live)
            await asyncio.to_thread(service.shelf.load_folder, settings.procedures)
            loop = asyncio.get_running_loop()

            def tell(run: int, seq: int) -> None:
                loop.call_soon_threadsafe(live.reached, run, seq)

            service.listen(tell)
            ticking = asyncio.create_task(live.run_forever())
            yield
            ticking.cancel()
            await asyncio.gather(ticking, return_exceptions=True)
        finally:
            feed.close()
            await asyncio.to_thread(store.close)

    app = FastAPI(
        title="Leadline",
        version=version("leadline"),
        summary="An offline web checklist runner for live crewed operations.",
        description="The tool advises. It does not replace the person in charge, approved procedures, local codes or "
        "licensed practice.",
        docs_url=None,  # FastAPI's own page loads from a CDN; /api/docs serves vendored files.
        redoc_url=None,
        openapi_url="/api/openapi.json",
        lifespan=lifespan,
        swagger_ui_oauth2_redirect_url=None,
    )
    errors.install(app)
    guard.install(app, settings.host, LARGEST_BODY)
    app.include_router(api)
    app.include_router(api_ahead)
    app.include_router(actions)
    app.include_router(files)  # Before the pages: they would take "template.csv" for a revision.
    app.include_router(sheets)
    app.include_router(pages)
    app.mount("/static", StaticFiles(directory=settings.static), name="static")
    return app
