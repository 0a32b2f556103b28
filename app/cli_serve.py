"""Serving from the command line: until it is stopped, with every way in which it can't as a sentence."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from app.cli_files import fail, say
from app.cli_store import no_folder
from app.settings import Settings

if TYPE_CHECKING:
    from app.store.store import Store


def serve_until_stopped(settings: Settings, page: str, then: "Callable[[Store], None] | None" = None) -> None:
    """`then` is called once, when it serves and has said where."""
    from app.store.faults import StoreFault
    from app.store.owner import refuse_owned

    try:
        refuse_owned(settings.data)
    except StoreFault as fault:
        fail(str(fault))
    # What a server stands on takes a second to load: only where there is a use for it.
    from app.serving import CannotServe, serve

    try:
        serve(settings, say, page, then)
    except (CannotServe, StoreFault) as fault:
        fail(str(fault))
    except OSError as error:
        fail(no_folder(settings.data, error))
