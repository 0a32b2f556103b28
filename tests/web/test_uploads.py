"""Files that are sent: refused whole with places and remedies, and read beside the event loop, so that marks go on."""

import asyncio
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from app.reading.files import CSV_TYPE, XLSX_TYPE, read_file
from app.reading.procedure_reader import read_procedure
from app.service.values import Loaded
from app.store.faults import StoreClosed
from app.web.keys import new_key
from app.web.uploads import MOST_WAITING, STOPPING, Uploads
from app.writing.files import written
from tests.reading import hostile_tables, hostile_workbooks, hostile_yaml
from tests.reading.workbooks import SMALL as ROWS
from tests.reading.workbooks import workbook
from tests.service.making import SMALL
from tests.web.broken import problem
from tests.web.site import HX, Site, words
from tests.web.test_hostile_text import harmless

KINDS = {"yaml": "application/yaml", "csv": CSV_TYPE, "xlsx": XLSX_TYPE}
OF_KIND = {"yaml": hostile_yaml.CASES, "csv": hostile_tables.CASES, "xlsx": hostile_workbooks.CASES}
QUICK = 30_000
"""Bytes. Larger ones are read in `tests/reading`, and by the harness against a real server."""
SLOW = {each.name for each in hostile_workbooks.BOMBS}
HOSTILE = {
    f"{kind}: {each.name}": (kind, each)
    for kind, cases in OF_KIND.items()
    for each in cases
    if each.where and each.name not in SLOW and len(each.make()) < QUICK
}


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """One site for all files of which nothing may be kept."""
    with Site(tmp_path_factory.mktemp("empty")) as opened:
        yield opened


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_is_refused_whole_by_api_and_page(empty: Site, name: str) -> None:
    kind, each = HOSTILE[name]
    data = each.make()
    said = problem(empty.post("/api/procedures", content=data, headers={"content-type": KINDS[kind]}), 422)
    assert isinstance(said["faults"], list)
    assert all(fault["what"] and fault["remedy"] and fault["line"] and fault["column"] for fault in said["faults"])
    assert any(each.what in fault["what"] for fault in said["faults"])
    page = empty.post("/procedures", files={"file": (f"x.{kind}", data)})
    assert page.status_code == 422
    assert each.where in words(page.text)
    harmless(page.text)
    assert empty.json("/api/procedures") == []


def test_most_hostile_files_are_tried_here() -> None:
    """The list is not empty by a slip."""
    assert len(HOSTILE) > 90


MARKUP = "<script>alert(1)</script>"
FAULTY = {
    "a key": f"procedure: p\ntitle: P\n{MARKUP}: 1\n",
    "a value": f"procedure: {MARKUP}\ntitle: P\n",
    "a name": f'procedure: p\ntitle: P\ntasks: [{{task: a, who: "{MARKUP}", steps: [{{do: x, takes: "{MARKUP}"}}]}}]\n',
    "a tag": f"procedure: !{MARKUP} p\n",
    "an alias": "procedure: *<img\n",
    "a cell": f"row,name\n{MARKUP},p\n",
    "a column": f"row,{MARKUP}\n",
}


@pytest.mark.parametrize("text", FAULTY.values(), ids=FAULTY)
def test_what_is_wrong_is_repeated_as_text(empty: Site, text: str) -> None:
    page = empty.post("/procedures", files={"file": ("<img src=x onerror=alert(1)>.yaml", text.encode())})
    assert page.status_code == 422
    harmless(page.text)
    answer = empty.post("/api/procedures", content=text.encode(), headers={"content-type": KINDS["yaml"]})
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize("kind", [CSV_TYPE, "application/xml", "application/json", "image/svg+xml"])
def test_a_file_under_another_kind_is_read_as_that_or_refused(empty: Site, kind: str) -> None:
    data = workbook(ROWS)
    assert empty.post("/api/procedures", content=data, headers={"content-type": kind}).status_code in (415, 422)
    assert empty.json("/api/procedures") == []


# Beside the event loop


class Waiting:
    """A reader that waits until it is let go, in place of one of the shelf's."""

    def __init__(self, read: Callable[..., Any]) -> None:
        self._read = read
        self.begun, self.let_go = threading.Event(), threading.Event()
        self.was_let_go: list[bool] = []

    def __call__(self, *given: Any, **named: Any) -> Any:
        self.begun.set()
        self.was_let_go.append(self.let_go.wait(30))
        return self._read(*given, **named)


def while_it_waits(site: Site, reader: Waiting, method: str, address: str, **sent: Any) -> httpx.Response:
    """The answer to a request that the reader holds up, after another request was answered meanwhile."""

    async def both() -> httpx.Response:
        held_up = asyncio.create_task(site.client.request(method, address, **sent))
        while not reader.begun.is_set() and not held_up.done():
            await asyncio.sleep(0.01)
        quick = await site.client.get("/api/docs")
        assert quick.status_code == 200
        assert not held_up.done()
        reader.let_go.set()
        return await held_up

    answer = site._runner.run(both())
    assert set(reader.was_let_go) == {True}  # It waited in another thread: in this one nobody could have let it go.
    return answer


CSV = written(read_procedure(SMALL).procedure, "csv")  # type: ignore[arg-type] # it is sound
XLSX = written(read_procedure(SMALL).procedure, "xlsx")  # type: ignore[arg-type] # it is sound
UPLOADS: dict[str, tuple[str, dict[str, Any]]] = {
    "YAML by the API": ("/api/procedures", {"content": SMALL, "headers": {"content-type": KINDS["yaml"]}}),
    "CSV by the API": ("/api/procedures", {"content": CSV, "headers": {"content-type": CSV_TYPE}}),
    "XLSX by the API": ("/api/procedures", {"content": XLSX, "headers": {"content-type": XLSX_TYPE}}),
    "a file by the form": ("/procedures", {"files": {"file": ("mast.yaml", SMALL)}}),
    "a table by the form": ("/procedures", {"files": {"file": ("mast.csv", CSV)}}),
    "a text by the form": ("/procedures", {"data": {"text": SMALL.decode()}}),
}


@pytest.mark.parametrize("upload", UPLOADS.values(), ids=UPLOADS)
def test_while_a_file_is_read_others_are_answered(
    site: Site, monkeypatch: pytest.MonkeyPatch, upload: tuple[str, dict[str, Any]]
) -> None:
    reader = Waiting(read_file)
    monkeypatch.setattr("app.service.shelf.read_file", reader)
    monkeypatch.setattr("app.service.shelf.read_procedure", lambda data: reader(data, "x.yaml"))
    address, sent = upload
    assert while_it_waits(site, reader, "POST", address, **sent).status_code in (201, 303)
    assert len(site.json("/api/procedures")) == 1


def test_files_that_come_at_once_are_read_one_after_another_and_only_so_many_wait(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Read all at once, forty hostile ones would take every thread from the pages, and 4 GB."""
    reader = Waiting(read_procedure)
    monkeypatch.setattr("app.service.shelf.read_procedure", reader)

    async def all_at_once() -> list[httpx.Response]:
        headers = {"content-type": KINDS["yaml"]}
        left = {
            asyncio.create_task(site.client.post("/api/procedures", content=SMALL, headers=headers))
            for _ in range(MOST_WAITING + 3)
        }
        refused: list[httpx.Response] = []
        while len(refused) < 3:
            done, left = await asyncio.wait(left, return_when=asyncio.FIRST_COMPLETED)
            refused += [each.result() for each in done]
        while not reader.begun.is_set():
            await asyncio.sleep(0.01)
        assert (await site.client.get("/")).status_code == 200  # A page needs a thread: who waits takes none.
        reader.let_go.set()
        return [*refused, *await asyncio.gather(*left)]

    answers = site._runner.run(all_at_once())
    assert [each.status_code for each in answers[:3]] == [503] * 3
    assert {each.status_code for each in answers[3:]} == {200, 201}
    assert reader.was_let_go == [True] * MOST_WAITING
    said = problem(answers[0], 503)
    assert "send it again" in str(said["detail"])
    assert answers[0].headers["retry-after"]
    again = site.post("/api/procedures", content=SMALL, headers={"content-type": KINDS["yaml"]})
    assert again.status_code == 200


def test_at_a_stop_nobody_waits_for_a_file_to_be_read(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither for one that waits for its turn nor for the one that is being read, whose thread nothing can end."""
    reader = Waiting(read_procedure)
    monkeypatch.setattr("app.service.shelf.read_procedure", reader)
    shelf = site.shell.service.shelf

    async def stopped() -> list[BaseException | Loaded]:
        uploads = Uploads(shelf)
        sent = [asyncio.create_task(uploads.load(SMALL, "x.yaml")) for _ in range(3)]
        while not reader.begun.is_set():
            await asyncio.sleep(0.01)
        uploads.close()
        uploads.close()
        found = await asyncio.gather(*sent, uploads.load(SMALL, "later.yaml"), return_exceptions=True)
        reader.let_go.set()
        return found

    found = site._runner.run(stopped())
    assert [str(each) for each in found] == [STOPPING] * 4
    assert {type(each) for each in found} == {StoreClosed}
    assert reader.was_let_go in ([], [True]), "only the first was begun"


def test_an_upload_that_is_told_of_a_stop_is_told_so_in_words(site: Site) -> None:
    site.shell.uploads.close()
    answer = site.post("/api/procedures", content=SMALL, headers={"content-type": KINDS["yaml"]})
    assert problem(answer, 503)["detail"] == STOPPING
    page = site.post("/procedures", files={"file": ("mast.yaml", SMALL)})
    assert page.status_code == 503
    assert STOPPING in words(page.text)
    assert site.json("/api/procedures") == []


FIRST: dict[str, tuple[str, str, dict[str, Any]]] = {
    "a mark by the API": ("POST", "/api/runs/1/marks", {"json": {"step": "rig/1"}}),
    "an order by the API": ("POST", "/api/runs/1/orders", {"json": {"do": "note", "reason": "x"}}),
    "an order by the form": ("POST", "/runs/1/orders", {"data": {"do": "note", "reason": "x", "page": "desk"}}),
    "an order by htmx": ("POST", "/runs/1/orders", {"data": {"do": "note", "reason": "x"}, "headers": HX}),
    "a page": ("GET", "/runs/1/desk", {}),
    "the state": ("GET", "/api/runs/1", {}),
    "the log": ("GET", "/api/runs/1/events", {}),
    "another run": ("POST", "/api/runs", {"json": {"procedure": "mast", "key": new_key()}}),
    "a plan": ("GET", "/api/procedures/mast/plan", {}),
    "the Home page": ("GET", "/", {}),
}


@pytest.mark.parametrize("first", FIRST.values(), ids=FIRST)
def test_who_comes_first_after_a_start_reads_the_run_beside_the_loop(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, first: tuple[str, str, dict[str, Any]]
) -> None:
    """A run that is not in memory is read with its procedure and its whole log by the first who asks for it."""
    with Site(tmp_path) as site:
        site.start()
    with Site(tmp_path) as site:
        reader = Waiting(read_procedure)
        monkeypatch.setattr("app.service.shelf.read_procedure", reader)
        method, address, sent = first
        assert while_it_waits(site, reader, method, address, **sent).status_code in (200, 201, 303)
