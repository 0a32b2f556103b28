"""Drives the real application without a socket: its lifespan is run by hand, requests go straight to it."""

import asyncio
import html
import re
from collections.abc import Coroutine, Mapping
from contextlib import AbstractAsyncContextManager
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar

import httpx

from app.core.marking import unacknowledged
from app.main import create_app
from app.settings import Settings
from app.web.access import TOKEN_HEADER
from app.web.depends import Shell
from app.web.guard import STATION_COOKIE
from tests.core.running import good_values
from tests.service.making import SMALL, SetClock, settings

BASE = "http://127.0.0.1:8765"
STATION = "5ad0f7"
T = TypeVar("T")
HX = {"HX-Request": "true"}


class Site:
    """One server over a data folder, with a clock that stands until it is set. Requests are made one after another."""

    def __init__(self, folder: Path, made: Settings | None = None) -> None:
        self.clock = SetClock()
        self.app = create_app(made or settings(folder, folder / "none"), self.clock.server())
        self._runner = asyncio.Runner()
        self._lifespan: AbstractAsyncContextManager[object] = self.app.router.lifespan_context(self.app)
        # An error that escapes is the server's 500 here too, not an exception of the test.
        transport = httpx.ASGITransport(self.app, raise_app_exceptions=False)
        self.client = httpx.AsyncClient(transport=transport, base_url=BASE)

    def __enter__(self) -> Self:
        self._runner.run(self._lifespan.__aenter__())
        # What a browser sends by itself, and the token that each form of a page carries.
        self.client.headers["Origin"] = BASE
        self.client.headers[TOKEN_HEADER] = self.shell.people.form_token(STATION)
        self.client.cookies.set(STATION_COOKIE, STATION)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._runner.run(self.client.aclose())
        self._runner.run(self._lifespan.__aexit__(None, None, None))
        self._runner.close()

    @property
    def shell(self) -> Shell:
        shell = self.app.state.shell
        assert isinstance(shell, Shell)
        return shell

    def request(self, method: str, address: str, **more: Any) -> httpx.Response:
        return self._runner.run(self.client.request(method, address, **more))

    def bare(self, method: str, address: str, *, at: str = "127.0.0.1", **more: Any) -> httpx.Response:
        """A request from the network address `at`, with no header and no cookie but those that are given."""
        transport = httpx.ASGITransport(self.app, raise_app_exceptions=False, client=(at, 40_000))

        async def asked() -> httpx.Response:
            async with httpx.AsyncClient(transport=transport, base_url=BASE) as client:
                return await client.request(method, address, **more)

        return self._runner.run(asked())

    def run(self, work: Coroutine[Any, Any, T]) -> T:
        """The result of something that runs in the server's own loop."""
        return self._runner.run(work)

    def wait(self, seconds: float) -> None:
        """Let the server's own tasks run on."""
        self._runner.run(asyncio.sleep(seconds))

    def get(self, address: str, **more: Any) -> httpx.Response:
        return self.request("GET", address, **more)

    def post(self, address: str, **more: Any) -> httpx.Response:
        return self.request("POST", address, **more)

    def page(self, address: str) -> str:
        """A page that is there."""
        answer = self.get(address)
        assert answer.status_code == 200, f"{address}: {answer.status_code} {words(answer.text)}"
        return answer.text

    def json(self, address: str) -> Any:
        answer = self.get(address)
        assert answer.status_code == 200, f"{address}: {answer.status_code} {answer.text}"
        return answer.json()

    def load(self, text: bytes = SMALL) -> str:
        """Its revision."""
        return self.shell.service.shelf.load(text, "mast.yaml").hash

    def start(self, text: bytes = SMALL) -> int:
        """A rehearsal whose zero is now."""
        answer = self.post("/runs", data={"revision": self.load(text), "kind": "rehearsal"})
        assert answer.status_code == 303, words(answer.text)
        return int(answer.headers["location"].split("/")[2])

    def order(self, run: int, do: str, *, hx: bool = False, **fields: str) -> httpx.Response:
        """Send an order's form; ``value__angle`` stands for the field ``value:angle``."""
        form = {"do": do, "page": "desk", **{name.replace("__", ":"): text for name, text in fields.items()}}
        return self.post(f"/runs/{run}/orders", data=form, headers=HX if hx else {})

    def done(self, run: int, *steps: str) -> None:
        """Mark steps now, each of which may be, with all that it takes: warnings acknowledged, values typed."""
        for step in steps:
            for form in self._forms(run, step):
                answer = self.post(f"/runs/{run}/orders", data={"page": "desk", **form})
                assert answer.status_code == 303, words(answer.text)

    def _forms(self, run: int, step: str) -> list[dict[str, str]]:
        """What is sent until the step is done."""
        situation = self.shell.service.situation(run)
        about = situation.step(step)
        read = [{"do": "acknowledge", "step": step, "person": who} for who in unacknowledged(situation, about)]
        typed = {f"value:{name}": f"{reading:g}" for name, reading in good_values(about)}
        confirmed = [{"do": "confirm", "step": step, "person": about.confirm_by}] if about.confirm_by else []
        return [*read, {"do": "mark", "step": step, **typed}, *confirmed]

    def states(self, run: int) -> Mapping[str, str]:
        return {step["id"]: step["state"] for step in self.json(f"/api/runs/{run}")["steps"]}


def words(page: str) -> str:
    """The text of a page, on one line."""
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", page)).split())


def forms(page: str) -> list[dict[str, str]]:
    """Each form's fields by name, its `method` and `action` among them."""
    return [_form(tag, inside) for tag, inside in re.findall(r"<form\b([^>]*)>(.*?)</form>", page, re.S)]


def _form(tag: str, inside: str) -> dict[str, str]:
    found = {name: html.unescape(text) for name, text in re.findall(r'\b(method|action)="([^"]*)"', tag)}
    for field in re.findall(r"<(?:input|button|textarea)\b[^>]*>", inside):
        name = re.search(r'\bname="([^"]*)"', field)
        value = re.search(r'\bvalue="([^"]*)"', field)
        if name:
            found[html.unescape(name[1])] = html.unescape(value[1]) if value else ""
    return found
