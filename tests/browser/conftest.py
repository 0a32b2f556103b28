"""What the browser tests share: one Chromium, one server for all, stations that complain. No test of its own."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect, sync_playwright

from tests.browser.cable import Cable
from tests.browser.server import Server
from tests.browser.station import NewStation, Station

NAMES = ("chromium", "chromium-browser", "google-chrome")
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def chromium() -> str:
    """The path of the browser to test with."""
    wanted = os.environ.get("LEADLINE_BROWSER")
    names = (wanted,) if wanted else NAMES
    found = next((path for name in names if (path := shutil.which(name))), None)
    if found is None:
        pytest.fail(f"No browser: none of {', '.join(names)} is on the PATH; install chromium or set LEADLINE_BROWSER.")
    return found


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    expect.set_options(timeout=5_000)
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=chromium(), args=list(FLAGS))
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server for every test that does not stop it; each test starts a run of its own."""
    with Server(tmp_path_factory.mktemp("serve")) as started:
        yield started


@pytest.fixture
def own_server(tmp_path: Path) -> Iterator[Server]:
    """A server that the test may kill."""
    with Server(tmp_path) as started:
        yield started


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """`leadline demo`: run 1 is its rehearsal."""
    with Server(tmp_path_factory.mktemp("demo"), "demo") as started:
        yield started


@pytest.fixture
def station(browser: Browser, server: Server) -> Iterator[NewStation]:
    """Makes stations, at the common server unless told another. At the end none may have a complaint."""
    made: list[Station] = []

    def new(at: Server = server, script: bool = True, width: int = 1440) -> Station:
        made.append(Station(browser, at.address, script, width))
        return made[-1]

    yield new
    problems = [problem for each in made for problem in each.problems]
    for each in made:
        each.context.close()
    assert not problems, "\n".join(problems)


@pytest.fixture
def cable(server: Server) -> Iterator[Cable]:
    with Cable(server.port) as laid:
        yield laid


@pytest.fixture
def far(cable: Cable, station: NewStation) -> Station:
    """A station at the other end of the cable, whose page may complain of a lost server."""
    there = station(cable)
    there.server_down = True
    return there
