"""What each may do is one table, and every route and every order is held to it."""

from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import pytest
from fastapi import FastAPI
from fastapi.routing import APIRoute
from starlette.routing import Mount, Route

from app.core.commands import Command, MarkStep
from app.main import create_app
from app.service.rights import RIGHTS, allows
from app.service.throttle import STATION
from app.settings import HOME
from app.web.access import ADDRESSES, ANYBODY, needs
from app.web.order_rights import ORDERS, order_needs
from tests.service.making import settings
from tests.web.accounts import Browser, quick, with_people
from tests.web.site import Site

STREAMS = {"/api/live", "/api/runs/{run}/live"}
"""They never end, so only their refusals are walked here; `test_sign_in.py` reads them."""

SAYS_401 = {("POST", "/sign-in"), ("POST", "/password")}
"""A password was wrong: the empty one that is sent here."""


def rows() -> dict[tuple[str, str], str]:
    """(method, address) to the right, as the table has them."""
    return {
        (method, path): right
        for right, addresses in ADDRESSES.items()
        for path, methods in addresses.items()
        for method in methods.split()
    }


def routes(app: FastAPI) -> set[tuple[str, str]]:
    """Every (method, address) that the application answers to."""
    found = set()
    for each in app.routes:
        if isinstance(each, Mount):
            found.add(("GET", f"{each.path}/{{path:path}}"))
            continue
        for route in getattr(each, "original_router", app).routes if not isinstance(each, Route) else [each]:
            assert isinstance(route, Route | APIRoute), route
            found |= {(method, route.path) for method in (route.methods or ()) if method != "HEAD"}
    return found


def test_every_route_of_the_application_has_its_row_and_every_row_its_route(tmp_path: Path) -> None:
    app = create_app(settings(tmp_path, tmp_path / "none"))
    assert routes(app) == set(rows())


def test_an_address_that_the_table_does_not_have_is_the_keepers() -> None:
    assert needs("GET", "/added/later") == "keep"
    assert needs("DELETE", "/runs/1/orders") == "keep"
    assert needs("PATCH", "/") == "keep"


def test_a_general_address_never_lets_through_what_a_particular_one_keeps() -> None:
    """Each row's own address is held to its own right, though other rows' patterns match it too."""
    for (method, path), right in rows().items():
        address = path.replace("{path:path}", "x").replace("{page:path}", "desk").replace("{run}", "1")
        address = address.replace("{revision}", "mast").replace("{kind}", "yaml").replace("{person}", "EV1")
        assert needs(method, address) == right, (method, path)


@pytest.fixture(scope="module")
def peopled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[dict[str, Browser], int]]:
    """The browsers by right, and a run."""
    with pytest.MonkeyPatch.context() as patched, Site(tmp_path_factory.mktemp("access")) as site:
        patched.setattr("app.service.passwords._hasher", quick)
        run = site.start()
        yield with_people(site), run


def asked(who: Browser, method: str, path: str, run: int) -> int:
    """The status of a request that would do no harm if it were let through."""
    address = path.replace("{run}", str(run)).replace("{page:path}", "desk").replace("{path:path}", "leadline.css")
    address = address.replace("{revision}", "mast").replace("{kind}", "yaml").replace("{person}", "EV1")
    return who.request(method, address, follow_redirects=False).status_code


@pytest.mark.parametrize("right", ["", *RIGHTS])
def test_every_route_is_held_to_the_table(peopled: tuple[dict[str, Browser], int], right: str) -> None:
    browsers, run = peopled
    who = browsers[right]
    who.site.clock.at_s += STATION.tries * STATION.each_s  # Each walk makes a few wrong tries.
    for (method, path), needed in rows().items():
        if path == "/sign-out" or (method, path) == ("DELETE", "/api/session"):
            continue  # It would end the walk; see test_sign_in.py.
        may = needed == ANYBODY or (right != "" and allows(right, needed))
        if path in STREAMS and may:
            continue
        status = asked(who, method, path, run)
        if may:
            says = (method, path) in SAYS_401 or (path == "/api/me" and not right)
            assert (status == 401) == says, (method, path, status)
            assert status != 403, (method, path)
        elif right:
            assert status == 403, (method, path, status)
        else:
            assert status == 303 if method == "GET" and not path.startswith("/api") else status == 401, (method, path)


def test_a_refusal_is_a_sentence_that_names_what_is_missing(peopled: tuple[dict[str, Browser], int]) -> None:
    browsers, run = peopled
    page = browsers["mark"].post("/runs", data={"revision": "mast"})
    assert page.status_code == 403
    assert "for those who may decide as the flight lead does; Mara may mark steps" in page.text
    said = browsers["watch"].post(f"/api/runs/{run}/marks", json={"step": "rig/1"}).json()
    assert (said["status"], said["code"]) == (403, "not-allowed")
    assert "for those who may mark steps; Wim may look" in said["detail"]


def test_every_order_has_its_right() -> None:
    listed = [command for commands in ORDERS.values() for command in commands]
    assert len(listed) == len(set(listed))
    assert set(listed) == set(get_args(Command))
    assert order_needs(MarkStep("a/1")) == "mark"
    assert order_needs(MarkStep("a/1", (), "the lead says so")) == "lead"


FORMS = {
    "mark": {"do": "note", "reason": "All well"},
    "lead": {"do": "put-off", "task": "paint", "reason": "Short of time"},
}


@pytest.mark.parametrize("right", RIGHTS)
def test_orders_by_form_and_api_are_held_to_the_table(peopled: tuple[dict[str, Browser], int], right: str) -> None:
    browsers, run = peopled
    who = browsers[right]
    for needed, fields in FORMS.items():
        form = who.post(f"/runs/{run}/orders", data={"page": "desk", **fields})
        sent = who.post(f"/api/runs/{run}/orders", json=fields)
        if allows(right, needed):
            assert form.status_code in (303, 409), form.text
            assert sent.status_code in (200, 409), sent.text
        else:
            assert (form.status_code, sent.status_code) == (403, 403)
    if right == "mark":
        ordered = who.post(f"/runs/{run}/orders", data={"do": "mark", "step": "wire/1", "ordered_because": "x"})
        assert ordered.status_code == 403
        assert "may decide as the flight lead does" in ordered.text


def test_pages_show_the_buttons_that_one_may_press(peopled: tuple[dict[str, Browser], int]) -> None:
    browsers, run = peopled
    assert browsers["mark"].post(f"/runs/{run}/orders", data={"do": "mark", "step": "rig/1"}).status_code == 303
    assert "Reopen rig/1" in browsers["mark"].get(f"/runs/{run}/log").text
    for page in ("desk", "lead", "log", "handover", "list/EV1"):
        watched = browsers["watch"].get(f"/runs/{run}/{page}").text
        assert watched.count('method="post"') == watched.count('action="/sign-out"') == 1, page
    desk = {right: browsers[right].get(f"/runs/{run}/desk").text for right in ("mark", "lead")}
    assert "End the run for good" not in desk["mark"]
    assert "End the run for good" in desk["lead"]
    assert 'value="not-needed"' not in desk["mark"]
    assert "data-main" in desk["mark"]
    assert "Start a rehearsal" not in browsers["mark"].get("/").text
    assert "Start a rehearsal" in browsers["lead"].get("/").text


def test_every_form_that_changes_something_carries_the_token(peopled: tuple[dict[str, Browser], int]) -> None:
    browsers, run = peopled
    who = browsers["keep"]
    pages = ["/", "/password", "/people", "/procedures/mast"]
    pages += [f"/runs/{run}/{page}" for page in ("desk", "lead", "log", "handover", "plan", "list/EV1")]
    for page in pages:
        text = who.get(page).text
        forms = text.split("<form ")[1:]
        posting = [form.split("</form>")[0] for form in forms if 'method="post"' in form.split(">")[0]]
        assert posting, page
        for form in posting:
            assert form.count(f'name="token" value="{who.token}"') == 1, (page, form[:200])


def test_the_list_of_keys_has_those_that_do_something_for_whoever_looks(
    peopled: tuple[dict[str, Browser], int],
) -> None:
    browsers, run = peopled
    keys = {right: browsers[right].get(f"/runs/{run}/desk").text.partition('id="keys"')[2] for right in RIGHTS}
    for press in ("main button", "undo the", "call a poll", "tools: taken out"):
        assert press not in keys["watch"]
        assert press in keys["mark"]
    for look in ("choose a band", "Desk, Lead board", "sound of the turn-back alarm", "close this list"):
        assert all(look in keys[right] for right in RIGHTS)


def test_the_documents_have_the_table() -> None:
    """Each address and each right stands in DEVELOPERS.md as it stands in the code."""
    text = (HOME / "DEVELOPERS.md").read_text()
    for right, addresses in ADDRESSES.items():
        row = next(line for line in text.splitlines() if line.startswith(f"| {right} |"))
        for path, methods in addresses.items():
            assert f"`{methods} {path}`" in row, (right, path)
        for command in ORDERS.get(right, ()):
            assert f"`{command.__name__}`" in row, (right, command)


@pytest.mark.parametrize("right", RIGHTS)
def test_what_is_not_there_is_told_as_not_there_to_everybody(
    peopled: tuple[dict[str, Browser], int], right: str
) -> None:
    browsers, _ = peopled
    for address in ("/nonsense", "/api/nope", "/favicon.ico"):
        assert browsers[right].get(address).status_code == 404, address
    assert browsers[right].request("PUT", "/runs/1").status_code == 405
