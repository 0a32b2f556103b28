"""Pictures reach the browser as pictures, also from a machine that has no list of types."""

import mimetypes
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.web.site import Site


@pytest.fixture
def without_a_list() -> Iterator[None]:
    """As on a machine without /etc/mime.types."""
    mimetypes.init(())
    mimetypes.types_map.pop(".webp", None)
    assert mimetypes.guess_type("desk.webp")[0] is None
    yield
    mimetypes.init()


@pytest.mark.usefixtures("without_a_list")
def test_a_picture_is_served_by_its_type_where_the_system_names_none(tmp_path: Path) -> None:
    with Site(tmp_path) as site:
        answer = site.get("/static/help/desk-dark.webp")
        font = site.get("/static/vendor/inter.woff2")
    assert (answer.status_code, answer.headers["content-type"]) == (200, "image/webp")
    assert answer.content[:4] + answer.content[8:12] == b"RIFFWEBP"
    assert font.headers["content-type"] == "font/woff2"
