"""Briefing and lists as pages: everything is on them, as text."""

import pytest

from app.core.procedure import Procedure
from app.core.situation import Prepared
from app.reading.procedure_reader import read_procedure
from tests.service.making import SAMPLES
from tests.web.site import Site, words

SAMPLE = (SAMPLES / "pump-changeout.yaml").read_bytes()

NASTY = b"""\
procedure: nasty
title: "<script>alert(1)</script> {{7*7}}"
crew: {EV1: {does: "<b>"}}
tasks:
  - task: one
    title: "<i>one"
    who: EV1
    steps:
      - {do: "<img src=x>", takes: 5 min, warning: "<u>w", note: "{% x %}", record: {"<a>": {unit: "%"}}}
"""


@pytest.fixture
def revision(site: Site) -> str:
    return site.load(SAMPLE)


def made(text: bytes = SAMPLE) -> Procedure:
    found = read_procedure(text).procedure
    assert found is not None
    return found


def test_the_briefing_says_what_the_plan_has(site: Site, revision: str) -> None:
    told = words(site.page(f"/procedures/{revision}/briefing"))
    procedure = made()
    for step in procedure.steps:
        if not procedure.task(step.task).get_ahead:
            assert step.do in told
    for task in procedure.tasks:
        assert task.title in told
    for said in (
        "Leadline advises. It does not replace the person in charge, approved procedures, local codes or licensed",
        "Plan finish 04:16:00 Limit 04:50:00 Room by plan 34m Turn back by 04:18:00",
        "Stop at 25 cm. Are both rails in their guides? Go from EV1 and EV2 and GROUND.",
        "by plan at 01:00, 02:00, 03:00, 04:00",
        "battery: keep 12 % in reserve",
        "Swap the bay 3 lamp; worth 3; after Photo survey of bay 3",
        "One tether hooked at all times.",
        revision[:12],
    ):
        assert said in told, said


def test_the_critical_path_is_told_in_order_and_whole(site: Site, revision: str) -> None:
    prepared = Prepared(made())
    critical = [n for n in prepared.network.order if prepared.late.float_s(prepared.plan, n) == 0]
    told = words(site.page(f"/procedures/{revision}/briefing")).split("Critical path")[1].split("Get-ahead items")[0]
    places = [told.index(f"({prepared.network.steps[n].id})") for n in sorted(critical, key=prepared.plan.times)]
    assert places == sorted(places)
    assert told.count("/") == len(critical)


@pytest.mark.parametrize("person", ["EV1", "EV2", "ARM", "GROUND"])
def test_a_list_has_each_step_of_its_person_with_cautions_first(site: Site, revision: str, person: str) -> None:
    page = site.page(f"/procedures/{revision}/lists/{person}")
    told = words(page)
    own = [step for step in made().steps if person in step.who]
    assert page.count('class="hand"></td>') == len(own)
    for step in own:
        place = told.index(f"{step.number}. {step.do}")
        for alert in (step.warning, step.caution, step.note):
            assert not alert or told.index(alert) < place
        for value in step.record:
            assert value.name in told
    assert all(f"{step.number}. {step.do}" not in told for step in made().steps if person not in step.who)


def test_a_list_has_boxes_for_counts_holds_and_the_second_person(site: Site, revision: str) -> None:
    arm = site.page(f"/procedures/{revision}/lists/ARM")
    assert "HOLD go from EV1 EV2 GROUND" in words(arm)
    ev2 = site.page(f"/procedures/{revision}/lists/EV2")
    assert "1 2 3 4 5 6 7 8" in words(ev2)
    assert "EV1 confirms" in words(ev2)
    assert "turns 14 to 17 turn" in words(ev2)


def test_a_list_says_what_others_ask_of_its_person(site: Site, revision: str) -> None:
    told = words(site.page(f"/procedures/{revision}/lists/EV1"))
    assert "Go or no-go: 02:00, ARM: Stop at 80 cm. Is the pump square to the rails? (bring-spare/2)" in told
    assert "Confirm: 02:44, EV2: Torque check on screws 1 and 4 (fasten/2)" in told
    assert "Go or no-go: 02:04, ARM" in words(site.page(f"/procedures/{revision}/lists/GROUND"))


def test_signal_words_stand_warning_caution_note_before_the_step(site: Site) -> None:
    """ANSI Z535.4-2007, 4.14, for the words; MIL-STD-38784, from memory, for their order before the step."""
    text = SAMPLE.replace(
        b"warning: One tether hooked at all times.", b"note: Third.\n        caution: Second.\n        warning: First."
    )
    told = words(site.page(f"/procedures/{site.load(text)}/lists/EV1"))
    assert "WARNING First. CAUTION Second. NOTE Third. 1. Leave the hatch" in told


def test_all_lists_are_one_page_with_a_sheet_for_each(site: Site, revision: str) -> None:
    page = site.page(f"/procedures/{revision}/lists")
    assert page.count('<article class="sheet list">') == 4


def test_nobody_has_no_list_and_no_revision_no_sheet(site: Site, revision: str) -> None:
    assert site.get(f"/procedures/{revision}/lists/EV9").status_code == 404
    assert site.get("/procedures/none/briefing").status_code == 404


def test_text_of_a_file_is_text_on_paper_too(site: Site) -> None:
    revision = site.load(NASTY)
    for sheet in ("briefing", "lists", "lists/EV1"):
        page = site.page(f"/procedures/{revision}/{sheet}")
        for tag in ("<img", "<i>one", "<u>w", "<script>alert", '<b>"', "<a>"):
            assert tag not in page
        assert "<script>alert(1)</script> {{7*7}}" in words(page)


def test_home_and_plan_lead_to_the_sheets(site: Site, revision: str) -> None:
    assert f'href="/procedures/{revision}/briefing"' in site.page(f"/procedures/{revision}")
    run = site.start(SAMPLE)
    assert f'href="/procedures/{revision}/lists/EV1"' in site.page(f"/runs/{run}/plan")
