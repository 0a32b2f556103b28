"""Every number of the help has an example, and each example is what the core makes of its procedure and marks."""

import re

import pytest

from app.web.help import rendered
from app.web.help_example import SLOW
from app.web.help_number import Number
from app.web.help_numbers import NUMBERS
from app.web.help_words import PAGES
from tests.web import help_worked_ahead, help_worked_run
from tests.web.help_worked import WORKED
from tests.web.help_worked_run import Worked
from tests.web.site import Site

BY_SLUG = {each.slug: each for each in NUMBERS}


def told(number: Number) -> Worked:
    return number.given, number.result


@pytest.mark.parametrize("slug", sorted(WORKED))
def test_an_example_is_what_the_core_works_out(slug: str) -> None:
    assert told(BY_SLUG[slug]) == WORKED[slug]()


def test_every_number_has_an_example_and_a_source_or_says_that_the_rule_is_ours() -> None:
    assert [each.slug for each in NUMBERS if each.slug not in WORKED] == []
    assert set(WORKED) == set(BY_SLUG)
    assert len(BY_SLUG) == len(NUMBERS)
    for each in NUMBERS:
        assert each.formula
        assert each.source
        assert each.given
        assert re.search(r"[0-9]|on plan", each.result), each.slug


def test_every_number_is_told_on_a_page(site: Site) -> None:
    pages = [rendered(site.shell.renderer, site.shell.settings.static, page) for page in PAGES]
    for each in NUMBERS:
        assert any(f'id="number-{each.slug}"' in page for page in pages), each.slug


def test_an_example_whose_marks_change_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    later = tuple((step, "0:29:25" if step == "lamp/1" else at) for step, at in SLOW)
    for module in (help_worked_run, help_worked_ahead):
        monkeypatch.setattr(module, "SLOW", later)
    assert WORKED["lead"]()[1] == "4m 25s behind"
    wrong = [
        slug
        for slug in ("lead", "person-lead", "finish", "room", "float", "wins")
        if told(BY_SLUG[slug]) != WORKED[slug]()
    ]
    assert wrong == ["lead", "person-lead", "finish", "room", "float", "wins"]
