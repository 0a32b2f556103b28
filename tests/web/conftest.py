"""A site over a store of its own, for each test."""

from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from app.reading.procedure_reader import read_procedure
from app.web.render import Renderer
from tests.web.site import Site

compiled_once = cache(Renderer)
"""To compile the templates takes longer than most tests; a renderer keeps nothing else."""
read_once = cache(read_procedure)
"""The same text reads the same each time."""


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Site]:
    monkeypatch.setattr("app.main.Renderer", compiled_once)
    monkeypatch.setattr("app.service.shelf.read_procedure", read_once)
    with Site(tmp_path) as opened:
        yield opened
