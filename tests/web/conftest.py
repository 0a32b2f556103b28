"""A site over a store of its own, for each test."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.web.site import Site


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    with Site(tmp_path) as opened:
        yield opened
