"""Every page and every form of the application, asked for and filled in at random: none is ever a fault of ours.

The addresses are those of the table of rights, so that a page that is added is tried here too.
"""

import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote, urlencode

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.web.access import ADDRESSES
from app.web.orders import _ORDERS
from tests.service.making import SMALL
from tests.web.site import HX, Site
from tests.web.test_hostile_text import HOSTILE, everywhere, harmless

NOT_PAGES = ("/api/", "/static/")
"""The API is tried by `test_schemathesis`, files and their odd addresses by `test_connections`."""
LEFT_OUT = {"/sign-out", "/people"}
"""To try these is to lose the open way in: somebody is added, and from then on one must sign in."""
EXAMPLES = 150
FIELDS = (
    *("do", "page", "step", "task", "person", "reason", "takes", "tasks", "other", "text", "who", "before", "after"),
    *("change", "number", "poll", "round", "supply", "value", "value:angle", "reading:gas", "order:rig", "tool", "how"),
    *(
        "where",
        "flag",
        "entry",
        "to",
        "anew",
        "heard",
        "at",
        "key",
        "if",
        "find",
        "only",
        "have",
        "from",
        "pressed",
        "of",
    ),
    *("ordered_because", "name", "revision", "kind", "running", "password", "old", "new", "again", "next"),
)
WORDS = (
    *(
        "",
        "0",
        "1",
        "-1",
        "7",
        "99999999999999999999",
        "1e999",
        "NaN",
        "0:05",
        "-2 min",
        "24:00",
        "8 min",
        "rig",
        "rig/1",
    ),
    *(
        "rig/2",
        "wire/2",
        "paint",
        "sweep",
        "EV1",
        "EV2",
        "EV9",
        "mast",
        "desk",
        "lead",
        "log",
        "list/EV1",
        "list/",
        "plan",
    ),
    *(
        "handover",
        "handover/x",
        "live",
        "poll-1",
        "stowed",
        "left",
        "notes",
        "EV1 loses 5 min",
        "put off paint",
        "//x",
        "/",
    ),
    *(
        "desk-end:0",
        "\0",
        "\u202e",
        "\ud7ff",
        "\U0010ffff",
        "\r\nX: y",
        "..",
        "../../etc/x",
        "CON",
        "x" * 300,
        *HOSTILE,
    ),
)
_values = st.sampled_from(WORDS) | st.text(max_size=12)
_orders = st.sampled_from([*_ORDERS, "mark", "go:EV1", "count:1", "count:x", ":", ""])
_form = st.lists(st.tuples(st.sampled_from(FIELDS), _values) | st.tuples(st.just("do"), _orders), max_size=8)
_headers = st.sampled_from([{}, HX, {"Accept": "application/json"}, {"Accept": "text/html, */*;q=0.1"}])
_tables = [(path, methods.split()) for table in ADDRESSES.values() for path, methods in table.items()]
PAGES = sorted(path for path, methods in _tables if "GET" in methods and not path.startswith(NOT_PAGES))
FORMS = sorted({path for path, methods in _tables if "POST" in methods and not path.startswith(NOT_PAGES)} - LEFT_OUT)
_NAMES = {"run": ["1", "2", "9", "0", "x", "-1"], "kind": ["yaml", "csv", "xlsx", "x"], "person": ["EV1", "EV9"]}
_NAMES |= {
    "revision": ["mast", "hostile", "0000", "x"],
    "page": ["desk", "lead", "log", "list/EV1", "plan", "handover"],
}


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """With a run of a small procedure and one with hostile text in every place."""
    with Site(tmp_path_factory.mktemp("random")) as opened:
        opened.start(SMALL)
        opened.start(everywhere(HOSTILE[0]))
        yield opened


@st.composite
def addresses(draw: st.DrawFn, paths: list[str]) -> str:
    """One of the paths with its places filled in."""
    path = draw(st.sampled_from(paths))

    def filled(found: re.Match[str]) -> str:
        name = found[1].partition(":")[0]
        return quote(draw(st.sampled_from(_NAMES[name]) | _values), safe="/" if ":" in found[1] else "")

    return re.sub(r"{([^}]+)}", filled, path)


@given(addresses(PAGES), _form, _headers)
@settings(max_examples=EXAMPLES, deadline=None)
def test_no_page_is_a_fault_of_ours(
    site: Site, address: str, query: list[tuple[str, str]], headers: dict[str, str]
) -> None:
    answer = site.get(f"{address}?{urlencode(query, errors='surrogatepass')}", headers=headers)
    assert answer.status_code in (200, 303, 307, 404, 405, 409, 422), (address, query)
    if answer.headers.get("content-type", "").startswith("text/html") and "HX-Request" not in headers:
        harmless(answer.text)


@given(addresses(FORMS), _form, _headers)
@settings(max_examples=EXAMPLES, deadline=None)
def test_no_form_is_a_fault_of_ours(
    site: Site, address: str, form: list[tuple[str, str]], headers: dict[str, str]
) -> None:
    kind = {"Content-Type": "application/x-www-form-urlencoded"}
    answer = site.post(address, content=urlencode(form, errors="surrogatepass"), headers=headers | kind)
    assert answer.status_code in (200, 303, 401, 404, 405, 409, 422, 429), (address, form)
    if answer.headers.get("content-type", "").startswith("text/html") and "HX-Request" not in headers:
        harmless(answer.text)


def test_the_runs_can_still_be_read(site: Site) -> None:
    """Whatever was ordered meanwhile."""
    for run in site.json("/api/runs"):
        for page in ("desk", "lead", "list/EV1", "log", "handover", "plan"):
            harmless(site.page(f"/runs/{run['run']}/{page}"))
    assert Path(site.shell.settings.data).is_dir()


def test_the_table_has_pages_and_forms_to_try() -> None:
    assert len(PAGES) > 10
    assert {"/", "/runs/{run}/{page:path}", "/procedures/{revision}/file.{kind}"} <= set(PAGES)
    assert {"/runs/{run}/orders", "/procedures", "/runs", "/name", "/sign-in"} <= set(FORMS)
    assert {path for path, _ in _tables} >= LEFT_OUT
