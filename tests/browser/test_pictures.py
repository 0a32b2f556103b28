"""The pictures of the help show the tool of today, are all there, and are small. Nothing is rendered here."""

import pytest
from PIL import Image

from tests.browser import pictures
from tests.browser.pictures import FOLDER, MOST_BYTES, PICTURES, THEMES, changed, made_from, told


def test_the_pictures_were_made_from_what_the_tool_looks_like_now() -> None:
    stale = changed()
    assert not stale, f"run `make pictures`, look at them, and keep them; changed since: {', '.join(stale)}"


def test_a_changed_style_and_a_picture_made_by_hand_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    now = made_from()
    assert {"static/leadline.css", "templates/_band.html", "procedures/pump-changeout.yaml"} <= now.keys()
    beside = told()
    was = beside | {
        "made_from": now | {"static/leadline.css": "other", "static/gone.css": "0"},
        "files": beside["files"] | {"desk-dark.webp": "other"},
    }
    monkeypatch.setattr(pictures, "told", lambda: was)
    assert changed() == ["static/gone.css", "static/leadline.css", "desk-dark.webp"]


def test_every_picture_is_there_in_both_themes_at_its_size_and_all_are_small() -> None:
    total = 0
    for picture in PICTURES:
        assert told()["sizes"][picture.name] == [picture.width, picture.height]
        for theme in THEMES:
            file = FOLDER / f"{picture.name}-{theme}.webp"
            total += file.stat().st_size
            with Image.open(file) as image:
                assert image.size == (picture.width, picture.height)
                assert len(image.convert("RGB").getcolors(1 << 20) or ()) > 8, f"{file.name} is empty"
    assert total <= MOST_BYTES
