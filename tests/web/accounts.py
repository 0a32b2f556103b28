"""People for the tests of access: one of each right, signed in from a browser of their own. No test of its own."""

from functools import cache

import httpx
from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher

from app.web.access import TOKEN_HEADER
from tests.web.site import BASE, Site

NAMES = {"watch": "Wim", "mark": "Mara", "lead": "Lena", "train": "Tove", "keep": "Kofi"}
"""Name by right."""

PASSWORD = "four grey herons"


@cache
def quick() -> PasswordHash:
    """argon2id so cheap that a test may make many; never outside tests."""
    return PasswordHash((Argon2Hasher(time_cost=1, memory_cost=8, parallelism=1),))


class Browser:
    """One browser at a site, which sends what a page of it would send. Nobody is signed in at first."""

    def __init__(self, site: Site, at: str = "127.0.0.1") -> None:
        self.site = site
        self.at = at
        self.cookies: dict[str, str] = {}
        self.token = ""
        self.get("/sign-in")

    def request(self, method: str, address: str, **more: object) -> httpx.Response:
        headers = {"Origin": BASE, TOKEN_HEADER: self.token, "Cookie": self._cookie()} | dict(more.pop("headers", {}))  # type: ignore[call-overload] # a mapping of texts
        headers = {name: text for name, text in headers.items() if text}
        answer = self.site.bare(method, address, at=self.at, headers=headers, **more)
        for name, text in answer.cookies.items():
            self.cookies[name] = text
        for said in answer.headers.get_list("set-cookie"):
            if "Max-Age=0" in said:
                self.cookies.pop(said.partition("=")[0], None)
        if 'data-token="' in answer.text:
            self.token = answer.text.partition('data-token="')[2].partition('"')[0]
        return answer

    def get(self, address: str, **more: object) -> httpx.Response:
        return self.request("GET", address, **more)

    def post(self, address: str, **more: object) -> httpx.Response:
        return self.request("POST", address, **more)

    def sign_in(self, name: str, password: str = PASSWORD, after: str = "/") -> httpx.Response:
        self.get("/sign-in")
        answer = self.post("/sign-in", data={"name": name, "password": password, "next": after})
        if answer.status_code == 303:
            self.get("/")
        return answer

    def _cookie(self) -> str:
        return "; ".join(f"{name}={text}" for name, text in self.cookies.items())


def with_people(site: Site) -> dict[str, Browser]:
    """Add one person of each right to the site. Returns their browsers by right, and ``""`` for nobody's."""
    for right in reversed(NAMES):
        site.shell.people.add(NAMES[right], right, PASSWORD)
    made = {right: Browser(site) for right in ("", *NAMES)}
    for right, name in NAMES.items():
        assert made[right].sign_in(name).status_code == 303
    return made
