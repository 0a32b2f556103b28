"""Runs beside each other as a page: how they are chosen, and what the tables and charts say."""

import re

import pytest

from tests.service.making import SAMPLES, SMALL
from tests.web.finished import finished
from tests.web.site import Site, words

LATER = SMALL.replace(b"Join the wires, takes: 10 min", b"Join both wires, takes: 10 min")


@pytest.fixture
def two(site: Site) -> tuple[int, int]:
    return finished(site), finished(site, slow_s=300)


def compared(site: Site, *runs: int) -> str:
    return site.page(f"/compare?{'&'.join(f'run={run}' for run in runs)}")


def test_the_form_offers_the_runs_of_one_procedure_only(site: Site, two: tuple[int, int]) -> None:
    other = site.start((SAMPLES / "pump-changeout.yaml").read_bytes())
    page = site.page("/compare")
    assert f'value="{other}"' in page
    assert f'value="{two[0]}"' not in page
    page = site.page("/compare?procedure=mast")
    assert f'value="{other}"' not in page
    assert [f'name="run" value="{run}"' in page for run in two] == [True, True]
    assert "Mast work (2)" in words(page)


def test_without_any_run_it_says_what_to_do(site: Site) -> None:
    assert "No run yet. Start one on Home" in words(site.page("/compare"))


def test_each_step_has_both_runs_and_their_shifts(site: Site, two: tuple[int, int]) -> None:
    page = compared(site, *two)
    told = words(page)
    assert "Raise the mast rig/2 · EV1 00:15:00 ● as planned 00:20:00 ▼ 5m later 5m later" in told
    assert "Is the lamp lit? wire/2 · EV2 00:28:00 ▼ 1m later 00:33:00 ▼ 6m later 5m later" in told
    assert 'aria-label="Run 1: as planned; Run 2: 5m later"' in page
    assert "11m, 13m 30s, 16m" in told


def test_people_and_the_overlay_have_each_run(site: Site, two: tuple[int, int]) -> None:
    page = compared(site, *two)
    assert page.count("data-run=") == 2
    people = re.search(r'id="people"(.*?)</section>', page, re.S)
    assert people is not None
    assert "EV1 ● on plan 00:00:00 to 00:15:00" in words(f"<p {people[1]}")
    assert "run 1, 1m behind at its end; run 2, 6m behind at its end" in page


def test_steps_of_another_revision_that_do_not_match_are_told(site: Site, two: tuple[int, int]) -> None:
    third = finished(site, text=LATER)
    told = words(compared(site, two[0], two[1], third))
    assert "no such step" in told
    assert f"Run {third}: “Join both wires” (wire/1); run 1 has “Join the wires” there" in told


def test_what_can_t_be_compared_says_why(site: Site, two: tuple[int, int]) -> None:
    other = site.start((SAMPLES / "pump-changeout.yaml").read_bytes())
    for runs, said in (
        ((two[0],), "Choose from 2 to 12 runs to compare; 1 were chosen."),
        ((two[0], two[0]), "A run was chosen twice; choose each once."),
        ((two[0], other), "Only runs of one procedure can be compared: run 1 is of mast, run 3 is of pump-changeout."),
    ):
        assert said in words(compared(site, *runs))
    assert site.get("/compare?run=1&run=99").status_code == 404


def test_text_of_a_file_is_text_in_a_comparison_too(site: Site) -> None:
    nasty = SMALL.replace(b"Mast work", b'"<script>alert(1)</script>"').replace(b"Open the box", b'"<img src=x>"')
    one, two = (finished(site, text=nasty) for _ in range(2))
    page = compared(site, one, two)
    assert "<script>alert" not in page
    assert "<img src=x" not in page
    assert "&lt;img src=x&gt;" in page


def test_dots_of_a_step_never_lie_on_one_another(site: Site) -> None:
    runs = [finished(site, slow_s=slow_s) for slow_s in (0, 0, 10, 300)]
    page = compared(site, *runs)
    for chart in re.findall(r'<svg class="shifts"(.*?)</svg>', page, re.S):
        dots = [(float(x), int(y)) for x, y in re.findall(r'<circle cx="([\d.]+)%" cy="(\d+)"', chart)]
        assert len(dots) == 4
        for place, (x, y) in enumerate(dots):
            assert all(abs(x - other) >= 9 or y != level for other, level in dots[:place])
