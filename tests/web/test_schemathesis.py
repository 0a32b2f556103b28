"""The whole description of the API, tried on a real server with what it allows and with what it does not.

Every answer must be one that is described, in status, media type, headers and shape; none may be a 5xx; what the
description does not allow must be refused. LEADLINE_EXAMPLES says how much is made up for each operation: more by hand.
"""

import os
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis.core.errors import InvalidSchema
from schemathesis.core.result import Ok, Result
from schemathesis.schemas import APIOperation
from schemathesis.specs.openapi.checks import positive_data_acceptance

from app.main import create_app
from app.reading.files import CSV_TYPE, XLSX_TYPE
from app.reading.procedure_reader import read_procedure
from app.settings import Settings
from app.writing.files import written
from tests.served import Served, served
from tests.service.making import SMALL
from tests.web.streams import own, serving

pytestmark = pytest.mark.alone  # What was tried is counted over all of them.

STREAMS = {"GET /api/live", "GET /api/runs/{run}/live"}
"""Left out: an answer that never ends has no shape. `test_live.py` and `test_live_merged.py` read them."""
LEFT_OUT: list[Any] = [positive_data_acceptance]
"""The check that does not fit: a body may be right in form and still name no step of its run, or lack what its order
needs (422)."""

EXAMPLES = int(os.environ.get("LEADLINE_EXAMPLES", "15"))
NOWHERE = Path("/nonexistent")
"""Nothing happens at import, nor when an application is made."""
Case = schemathesis.Case[Any]
described = create_app(Settings(NOWHERE, NOWHERE)).openapi()
schema = schemathesis.openapi.from_dict(described).exclude(path_regex=r"/live$")
tried: Counter[str] = Counter()
answered: Counter[int] = Counter()


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """With the samples, a small procedure, and three runs of it; more are started by what is tried."""
    folder = tmp_path_factory.mktemp("description")
    with served(serving(folder), folder) as found:
        with httpx.Client(base_url=found.address, headers=own(found)) as client:
            sent = client.post("/api/procedures", content=SMALL, headers={"Content-Type": "application/yaml"})
            assert sent.status_code == 201, sent.text
            for _ in range(3):
                assert client.post("/api/runs", json={"procedure": "mast"}).status_code == 201
        yield found
        assert found.process.poll() is None


@schemathesis.serializer(XLSX_TYPE)
def _workbook(_: schemathesis.SerializationContext, value: Any) -> Any:
    """As it is: the library knows no workbooks."""
    return value if isinstance(value, bytes) else str(value).encode()


small = read_procedure(SMALL).procedure
assert small is not None
FILES = {
    "application/yaml": SMALL.decode(),
    "text/plain": SMALL.decode(),
    CSV_TYPE: written(small, "csv").decode(),
}
"""In place of every other file that was made up. What a workbook may hold, `tests/reading` and `test_uploads` try."""
KNOWN = {"procedure": "mast", "step": "rig/1", "task": "paint", "person": "EV1", "other": "rig", "revision": "mast"}
"""In place of some names that were made up: else nearly all would be for runs and steps that are not there."""


def at_home(case: Case) -> None:
    """Let a case that is right in form be about what is there, by its own throw: its run is even, or a text short."""
    if not (case.meta and case.meta.generation.mode.is_positive):
        return
    run = (case.path_parameters or {}).get("run")
    if isinstance(run, int) and run % 2 == 0:
        case.path_parameters["run"] = 1 + run // 2 % 3
    if case.media_type in FILES and len(str(case.body)) % 2 == 0:
        case.body = FILES[case.media_type]
    for sent in (case.path_parameters, case.body):
        if isinstance(sent, dict):
            _known(sent)


def _known(sent: dict[str, Any]) -> None:
    for name in sent.keys() & KNOWN.keys():
        if isinstance(sent[name], str) and len(sent[name]) < 4:
            sent[name] = KNOWN[name]
    for name in sent.keys() & {"at", "running"}:
        if isinstance(sent[name], int) and sent[name] % 2 == 0:
            sent[name] = 0


@schema.parametrize()
@settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck))
def test_what_is_described_is_what_is_answered(case: Case, server: Served) -> None:
    at_home(case)
    answer = case.call_and_validate(
        base_url=server.address.rstrip("/"), headers=own(server), timeout=20, excluded_checks=LEFT_OUT
    )
    tried[case.operation.label] += 1
    answered[answer.status_code] += 1


def label_of(read: Result[APIOperation[Any, Any, Any, Any], InvalidSchema]) -> str:
    """``GET /api/runs``; an operation that could not be read is an error of the description."""
    assert isinstance(read, Ok), read
    return read.ok().label


def test_every_operation_of_the_description_is_tried(request: pytest.FixtureRequest) -> None:
    methods = {"get", "post", "put", "patch", "delete"}
    every = {f"{way.upper()} {path}" for path, ways in described["paths"].items() for way in ways.keys() & methods}
    labels = {label_of(each) for each in schema.get_all_operations()}
    assert every > STREAMS
    assert labels == every - STREAMS
    run = {item.name.partition("[")[2].removesuffix("]") for item in request.session.items if item.path == request.path}
    for label in labels & run:
        assert tried[label] >= 3, label


def test_both_what_is_taken_and_what_is_refused_was_tried() -> None:
    """Were all cases about runs that are not there, or all refused in form, little would be shown."""
    if tried:
        assert {200, 404, 422} <= answered.keys()
    assert not any(status >= 500 for status in answered)
