"""Every number of the help has an example, and each example is what the core makes of its procedure and marks."""

import re
from dataclasses import replace

import pytest

from app.web.help import rendered
from app.web.help_example import SLOW
from app.web.help_number import Number
from app.web.help_numbers import NUMBERS
from app.web.help_words import PAGES
from tests.web import help_worked_ahead, help_worked_run
from tests.web.help_screens import screens
from tests.web.help_worked import WORKED
from tests.web.help_worked_labels import LEADS, PLAIN, Shown, is_called, is_plain, numbers_of, shown_by, without
from tests.web.help_worked_run import Worked
from tests.web.site import Site

BY_SLUG = {each.slug: each for each in NUMBERS}


@pytest.fixture(scope="module")
def seen() -> tuple[Shown, ...]:
    return shown_by(screens())


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


# From the screens' side: what they show, and not what the two lists above say.


def test_every_label_over_a_number_on_a_screen_leads_to_a_number_of_the_help(seen: tuple[Shown, ...]) -> None:
    assert [f"{each.screen}: {each.label}: {each.text[:60]}" for each in without(seen, BY_SLUG)] == []


def test_the_screens_show_every_label_that_is_sorted_here_over_a_number(seen: tuple[Shown, ...]) -> None:
    """So the test above did see them, and neither list keeps a label that is gone."""
    led = [each for each in seen if numbers_of(each, BY_SLUG)]
    rest = {name for each in seen if each not in led for name in (each.label, f"{each.screen}: {each.label}")}
    assert [label for label in LEADS if not any(is_called(label, each.label) for each in led)] == []
    assert [label for label in PLAIN if not any(is_called(label, name) for name in rest)] == []
    assert [each for each in led if is_plain(each)] == []


@pytest.mark.parametrize(
    ("added", "label"),
    [
        ("<dl><dt>Warp by</dt><dd>4m</dd></dl>", "Warp by"),
        ("<table><tr><th scope='col'>Warp</th></tr><tr><td>1.04</td></tr></table>", "Warp"),
        ("<p><b data-fig='warp-0'>96 %</b></p>", "fig warp-0"),
    ],
)
def test_a_label_over_a_number_that_the_help_does_not_have_is_found(added: str, label: str) -> None:
    lead = next(each for each in screens() if each.name == "lead")
    changed = replace(lead, page=lead.page.replace("</main>", f"{added}</main>"))
    assert [(each.screen, each.label) for each in without(shown_by([changed]), BY_SLUG)] == [("Lead board", label)]


@pytest.mark.parametrize(
    ("slug", "labels"),
    [
        ("to-plan", {"To plan"}),
        ("won-lost", {"Lead won, lost"}),
        ("change", {"Change"}),
        ("moved", {"What it moved at once"}),
        ("most-least", {"Most", "Least"}),
        ("window-chance", {"fig window-0"}),
        ("plan-finish", {"Plan finish", "Start", "Plan", "When"}),
    ],
)
def test_a_number_that_is_taken_out_of_the_help_is_missed_on_its_screens(
    seen: tuple[Shown, ...], slug: str, labels: set[str]
) -> None:
    left = {name: number for name, number in BY_SLUG.items() if name != slug}
    assert {each.label for each in without(seen, left)} >= labels
