"""The cards with which a station goes on alone: each band's next steps in order, with all that each of them needs."""

import re

import pytest

from app.web.views.spare import MOST_CARDS
from tests.browser.samples import HOSTILE, RELAY, RIG
from tests.web.accounts import with_people
from tests.web.site import Site, forms, words


def cards(page: str) -> dict[str, list[str]]:
    """The steps of each band, in order."""
    return {
        band: re.findall(r'<article data-step="([^"]*)"', inside)
        for band, inside in re.findall(r'<section data-spare="([^"]*)">(.*?)</section>', page, re.S)
    }


def card(page: str, step: str) -> str:
    """The first card of a step."""
    found = re.search(rf'<article data-step="{step}".*?</article>', page, re.S)
    assert found is not None, step
    return found[0]


def pressed(made: str) -> list[str]:
    """What the buttons of a card order, in their order."""
    return re.findall(r'<button name="do" value="([^"]*)"', made)


def spare(site: Site, run: int, page: str = "desk") -> str:
    return site.page(f"/runs/{run}/spare?page={page}")


def test_each_band_has_its_open_steps_in_the_order_of_its_list(site: Site) -> None:
    run = site.start(RELAY.encode())
    assert cards(spare(site, run)) == {
        "band-1": ["out/1", "out/2", "swap/1", "swap/2", "home/1"],
        "band-2": ["out/1", "out/2", "sweep/1", "home/1"],
        "band-3": ["cut/1", "cut/2"],
    }
    site.clock.at_s = 540
    site.done(run, "out/1", "out/2")
    site.order(run, "put-off", task="sweep", reason="rain")
    site.order(run, "take", task="photo")
    assert cards(spare(site, run)) == {
        "band-1": ["swap/1", "swap/2", "home/1"],
        "band-2": ["photo/1", "home/1"],
        "band-3": ["cut/1", "cut/2"],
    }


def test_the_bands_of_a_page_and_the_cards_for_them_have_the_same_names(site: Site) -> None:
    run = site.start(RELAY.encode())
    for page in ("desk", "list/ANA", "list/CHI"):
        shown = set(re.findall(r'<section id="([^"]*)" class="band', site.page(f"/runs/{run}/{page}")))
        assert set(cards(spare(site, run, page))) == shown
        assert all(f'id="spare-{part}"' in site.page(f"/runs/{run}/{page}") for part in shown)


def test_a_card_has_warnings_cautions_and_notes_before_its_step_and_a_button_for_each_person(site: Site) -> None:
    run = site.start(RIG.encode())
    made = card(spare(site, run), "lift/1")
    said = words(made)
    order = [
        "WARNING",
        "Nobody under the load",
        "CAUTION",
        "The frame bends",
        "NOTE",
        "The left hook",
        "HOLD",
        "Lift the",
    ]
    places = [said.index(each) for each in order]
    assert places == sorted(places)
    assert pressed(made)[:4] == ["acknowledge:ANA", "acknowledge:BEN", "go:ANA", "go:CHI"]
    assert "mark" in pressed(made)
    assert 'data-counted="0" data-of="4"' in made
    assert re.findall(r'name="(value:[^"]*)"', made) == ["value:gap left", "value:gap right", "value:load"]
    assert "CHI confirms it." in said


def test_what_is_known_already_is_not_asked_again(site: Site) -> None:
    run = site.start(RIG.encode())
    site.order(run, "acknowledge", step="lift/1", person="BEN", heard="1")
    for number in "123":
        site.order(run, "count", step="screws/1", number=number)
    site.order(run, "go", step="watch/1", person="ANA", heard="1")
    page = spare(site, run)
    assert "acknowledge:BEN" not in pressed(card(page, "lift/1"))
    assert "BEN acknowledged 00:00:00" in words(card(page, "lift/1"))
    assert 'data-counted="3" data-of="8"' in card(page, "screws/1")
    assert pressed(card(page, "watch/1"))[0] == "go:BEN"
    assert "ANA: go 00:00:00" in words(card(page, "watch/1"))


def test_at_their_own_console_a_person_answers_for_nobody_else(site: Site) -> None:
    run = site.start(RIG.encode())
    own = spare(site, run, "list/ANA")
    assert [each for each in pressed(card(own, "lift/1")) if ":" in each] == ["acknowledge:ANA", "go:ANA"]
    assert "I have read the warning" in words(card(own, "lift/1"))
    assert 'name="heard"' not in own
    assert 'name="heard" value="1"' in spare(site, run)


def test_the_form_of_a_card_carries_what_the_bands_own_form_carries(site: Site) -> None:
    run = site.start(RELAY.encode())
    own = next(each for each in forms(site.page(f"/runs/{run}/desk")) if each.get("step") == "out/1")
    spared = next(each for each in forms(spare(site, run)) if each.get("step") == "out/1")
    same = ("action", "method", "from", "page", "step", "heard", "token")
    assert {name: spared[name] for name in same} == {name: own[name] for name in same}
    assert spared["key"] == "", "the station gives each press its own"


def test_a_long_list_is_cut(site: Site) -> None:
    steps = "\n".join(f"      - {{do: Step {number}, takes: 1 min}}" for number in range(1, 60))
    top = "procedure: long\ntitle: Long\ncrew: {A: {does: all}}\ntasks:\n  - task: t\n    title: T\n    who: A\n"
    long = f"{top}    steps:\n{steps}\n"
    run = site.start(long.encode())
    assert cards(spare(site, run))["band-1"] == [f"t/{number}" for number in range(1, MOST_CARDS + 1)]


def test_steps_of_nobody_have_a_band_too(site: Site) -> None:
    top = b"procedure: wait\ntitle: Wait\ncrew: {A: {does: all}}\ntasks:\n"
    text = top + b"  - {task: cool, title: Cool, steps: [{do: Let it cool, takes: 5 min}]}\n"
    run = site.start(text)
    assert cards(spare(site, run)) == {"band-1": [], "band-2": ["cool/1"]}


def test_it_says_of_which_seq_it_is(site: Site) -> None:
    run = site.start(RELAY.encode())
    assert 'data-spare-seq="1"' in spare(site, run)
    site.order(run, "note", reason="rain")
    assert 'data-spare-seq="2"' in spare(site, run)


@pytest.mark.parametrize("page", ["lead", "list/NOBODY", "list/", "", "../desk", "desk/1", "<b>"])
def test_a_page_without_bands_is_refused_in_words(site: Site, page: str) -> None:
    run = site.start(RELAY.encode())
    answer = site.get(f"/runs/{run}/spare", params={"page": page})
    assert answer.status_code == 422
    assert "has no bands to go on with" in words(answer.text)


def test_a_run_that_is_not_there_is_not_found(site: Site) -> None:
    assert site.get("/runs/99/spare").status_code == 404


def test_an_ended_run_and_whoever_may_only_look_get_none(site: Site) -> None:
    run = site.start(RELAY.encode())
    browsers = with_people(site)
    assert cards(browsers["watch"].get(f"/runs/{run}/spare").text) == {}
    assert "band-1" in cards(browsers["mark"].get(f"/runs/{run}/spare").text)
    assert browsers[""].get(f"/runs/{run}/spare", headers={"HX-Request": "true"}).status_code == 401
    ended = browsers["lead"].post(f"/runs/{run}/orders", data={"do": "end", "page": "desk", "reason": "done"})
    assert ended.status_code == 303
    assert cards(browsers["mark"].get(f"/runs/{run}/spare").text) == {}


def test_text_of_a_procedure_stays_text(site: Site) -> None:
    run = site.start(HOSTILE.encode())
    page = spare(site, run)
    for tag in ("<script", "<img", "<svg", "<iframe", "<style", "<base", "<object"):
        assert tag not in page
    assert "window.ran = 8" in words(page)
