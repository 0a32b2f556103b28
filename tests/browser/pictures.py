"""Makes the pictures of the help from the demo's own run: ``python -m tests.browser.pictures``, or ``make pictures``.

The server stands at one moment of an invented day, so a picture differs from the last one only where the tool does.
Beside them stands what they were made from; `tests/browser/test_pictures.py` says when that has changed.
"""

import hashlib
import json
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import Any, cast

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

from app import demo, serving
from app.core.commands_rehearsal import SetInject
from app.core.times import read_clock
from app.main import create_app
from app.service.people import People
from app.service.runs import Service
from app.service.values import Sender
from app.settings import HOME, Settings
from app.store.clock import ServerClock
from app.store.opening import open_store
from app.store.store import Store
from app.web.keys import new_key
from tests.browser.conftest import FLAGS, chromium
from tests.browser.server import ROOT, STARTED
from tests.ports import free_port

FOLDER = HOME / "static" / "help"
TOLD = "pictures.json"
NOW = datetime(2031, 5, 4, 8, 45, tzinfo=UTC)
"""The day and hour that all pictures show. Invented."""
COLOURS = 128
"""Of a palette: as many as look like the page itself to us, and less than half the bytes of all of them."""
MOST_BYTES = 1_500_000
"""All pictures together. They are in every installation."""
THEMES = ("dark", "light")
KEEPER, PASSWORD = "Mara Voss", "larkspur-at-night"
PEOPLE = ((KEEPER, "keep"), ("Ines Holm", "lead"), ("Tobias Reik", "train"), ("Desk 1", "mark"), ("Gallery", "watch"))


@dataclass(frozen=True, slots=True)
class Picture:
    """A page at a window's size, in pixels of the page. `live`: it is shown once its stream has spoken."""

    name: str
    path: str
    width: int = 1200
    height: int = 800
    live: bool = True


PICTURES = (
    Picture("home", "/", height=760),
    Picture("desk", "/runs/1/desk", height=860),
    Picture("lead", "/runs/1/lead", height=900),
    Picture("list", "/runs/1/list/EV1", width=820, height=860),
    Picture("log", "/runs/1/log", height=700),
    Picture("handover", "/runs/1/handover", height=760),
    Picture("plan", "/runs/1/plan", height=860),
    Picture("trainer", "/runs/1/trainer", height=860),
    Picture("replay", "/runs/1/desk?at=1:10:00", height=700, live=False),
    Picture("debrief", "/runs/2/debrief", height=900, live=False),
    Picture("compare", "/compare?run=2&run=3&run=4&run=5&run=6#leads", height=900, live=False),
    Picture("people", "/people", height=760, live=False),
)


def made_from() -> dict[str, str]:
    """What the pictures show: each file by its path with the beginning of its SHA-256."""
    return {path.relative_to(ROOT).as_posix(): _digest(path.read_bytes()) for path in sorted(_sources())}


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:16]


def _sources() -> Iterator[Path]:
    for pattern in (
        "templates/*.html",
        "static/*.css",
        "static/*.js",
        "app/web/views/*.py",
        "app/web/*.py",
        "app/core/*.py",
    ):
        yield from (path for path in ROOT.glob(pattern) if not path.name.startswith("help"))
    font = ROOT / "static" / "vendor" / "inter.woff2"
    yield from (ROOT / "procedures" / f"{demo.SAMPLE}.yaml", ROOT / "app" / "demo.py", font, Path(__file__))


def told() -> dict[str, dict[str, Any]]:
    """What stands beside the pictures: `made_from`, the `sizes` of the pages shown, and the digests of the `files`."""
    found: dict[str, dict[str, Any]] = json.loads((FOLDER / TOLD).read_text("utf-8"))
    return found


def changed() -> list[str]:
    """What is not as it was when the pictures were made; empty where they show the tool of today."""
    then, now = told(), made_from()
    names = sorted(then["made_from"].keys() | now.keys())
    sources = [name for name in names if then["made_from"].get(name) != now.get(name)]
    wanted = {f"{picture.name}-{theme}.webp" for picture in PICTURES for theme in THEMES}
    files = {path.name: _digest(path.read_bytes()) for path in FOLDER.glob("*.webp")}
    return [*sources, *sorted(name for name in wanted | files.keys() if files.get(name) != then["files"].get(name))]


# The server: the demo's runs, at the moment NOW for ever


def _serve(folder: Path, port: int) -> None:
    clock = ServerClock(lambda: NOW, lambda: 1_000.0)
    settings = Settings(folder, HOME / "procedures", port=port)
    cast(Any, demo).wall_clock = lambda: NOW
    demo.build(settings)
    with open_store(folder, settings.migrations, "pictures") as store:
        demo.keep_finished(store)
        _people(store, clock)
        _trouble(store, clock)

    def standing(settings: Settings, *, opened: Store) -> Any:
        return create_app(settings, clock, opened)

    cast(Any, serving).create_app = standing
    serving.serve(settings, lambda line: print(line, flush=True))


def _people(store: Store, clock: ServerClock) -> None:
    people = People(store, clock)
    for name, may in PEOPLE:
        people.add(name, may, PASSWORD)


def _trouble(store: Store, clock: ServerClock) -> None:
    """Two troubles that are still to come, for the trainer's page."""
    service = Service(store, clock)
    for trouble in (
        SetInject("delay", read_clock("2:30:00"), "screw 3 is seized", step="fasten/1", by_s=360),
        SetInject("no-go", read_clock("2:05:00"), "the loop is broken up", person="GROUND", by_s=240),
    ):
        service.order(1, trouble, Sender(PEOPLE[2][0], "training desk", new_key())).result()


@contextmanager
def _served() -> Iterator[str]:
    """Its address."""
    port = free_port()
    with tempfile.TemporaryDirectory() as folder:
        words = [
            sys.executable,
            "-m",
            __name__ if __name__ != "__main__" else "tests.browser.pictures",
            folder,
            str(port),
        ]
        with subprocess.Popen(words, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
            try:
                assert process.stdout is not None
                if not any(line.startswith(STARTED) for line in process.stdout):
                    raise RuntimeError("the server ended before it listened")
                yield f"http://127.0.0.1:{port}"
            finally:
                process.terminate()


# The pictures


def _taken(page: Page, picture: Picture, theme: str) -> bytes:
    page.set_viewport_size({"width": picture.width, "height": picture.height})
    page.goto(picture.path)
    page.evaluate("theme => { document.documentElement.dataset.theme = theme }", theme)
    page.evaluate("document.fonts.ready")
    if picture.live:
        page.locator("#link.live").wait_for()
    made = BytesIO()
    with Image.open(BytesIO(page.screenshot())) as shot:
        shot.convert("RGB").quantize(COLOURS).save(made, "WEBP", lossless=True, method=6)
    return made.getvalue()


def _all(browser: Browser, address: str) -> dict[str, bytes]:
    """Each file by its name."""
    context = browser.new_context(base_url=address, reduced_motion="reduce")
    context.clock.set_fixed_time(NOW)
    page = context.new_page()
    page.goto("/sign-in")
    page.get_by_label("Name").fill(KEEPER)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{address}/")
    made = {f"{each.name}-{theme}.webp": _taken(page, each, theme) for each in PICTURES for theme in THEMES}
    context.close()
    return made


def make() -> None:
    """Take all of them, and put them into FOLDER in place of those that are there."""
    sources = made_from()
    with _served() as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=list(FLAGS))
        made = _all(browser, address)
        browser.close()
    size = sum(map(len, made.values()))
    if size > MOST_BYTES:
        raise SystemExit(f"The pictures have {size:,} bytes, more than {MOST_BYTES:,}; nothing was written.")
    FOLDER.mkdir(exist_ok=True)
    for left in FOLDER.glob("*.webp"):
        left.unlink()
    for name, data in made.items():
        (FOLDER / name).write_bytes(data)
    beside = {
        "made_from": sources,
        "sizes": {each.name: [each.width, each.height] for each in PICTURES},
        "files": {name: _digest(data) for name, data in made.items()},
    }
    (FOLDER / TOLD).write_text(json.dumps(beside, indent=1) + "\n", encoding="utf-8")
    print(f"{len(made)} pictures, {size:,} bytes, in {FOLDER}")


if __name__ == "__main__":
    if len(sys.argv) == 3:
        _serve(Path(sys.argv[1]), int(sys.argv[2]))
    else:
        make()
