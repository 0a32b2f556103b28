"""The help is there for everybody, is led to from everywhere, and leads nowhere that is not there."""

import re
from collections.abc import Iterator

import pytest

from app.settings import HOME
from app.web.help import rendered
from app.web.help_words import PAGES, SCREENS, Explained, address_of, explained, find, help_at
from tests.web.help_labels import tree
from tests.web.help_screens import Screen, screens
from tests.web.site import Site, words


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, str]]:
    """The help by address."""
    with Site(tmp_path_factory.mktemp("help")) as site:
        yield {address_of(page): rendered(site.shell.renderer, site.shell.settings.static, page) for page in PAGES}


def test_the_help_is_read_without_signing_in_and_from_another_machine(site: Site) -> None:
    for page in PAGES:
        answer = site.bare("GET", address_of(page), at="192.0.2.7")
        assert answer.status_code == 200, page
        assert "Help" in words(answer.text)


def test_a_page_that_the_help_does_not_have_is_not_there(site: Site) -> None:
    answer = site.get("/help/warp")
    assert answer.status_code == 404
    assert "The help has no page “warp”." in words(answer.text)


def test_a_word_of_a_screen_leads_to_where_that_screen_explains_it(site: Site) -> None:
    for what, on, address in (
        ("Team, against plan", "lead", "/help/flight-lead#lead-team-against-plan"),
        ("team,  AGAINST plan", "desk", "/help#bar-team-against-plan"),
        ("Finish · plan 04:16:00 · limit 05:00:00", "desk", "/help#bar-finish-plan-any"),
        ("Get-ahead items", "lead", "/help/flight-lead#lead-get-ahead-items"),
        ("EV2 is go", "list/EV2", "/help/ground-support#desk-any-is-go"),
        ("Put off all 3", "lead", "/help/flight-lead#lead-put-off-all-any"),
    ):
        answer = site.get("/help", params={"what": what, "on": on}, follow_redirects=False)
        assert (answer.status_code, answer.headers.get("location")) == (303, address), what


def test_a_word_that_is_none_is_said_to_be_none_and_stays_in_the_field(site: Site) -> None:
    answer = site.get("/help", params={"what": "<b>Xyzzy</b>", "on": "desk"}, follow_redirects=False)
    assert answer.status_code == 200
    assert "“<b>Xyzzy</b>” is not a word of a screen" in words(answer.text.replace("&lt;b&gt;", "‹b›")).replace(
        "‹b›", "<b>"
    )
    assert 'value="&lt;b&gt;Xyzzy' in answer.text


def test_what_is_said_exactly_comes_before_what_stands_for_more() -> None:
    known = explained("", '<dfn id="a-of">… of …</dfn><dfn id="b-one">1 of 8</dfn><dfn id="c-none">of</dfn>')
    assert [find(known, text) for text in ("1 of 8", "2 of 8")] == [known[1], known[0]]
    assert find(known, "8 of the hearts we had") is None
    assert find((Explained("", "a", "Finish"),), "Finished tasks") is None


def test_every_screen_leads_to_its_own_section(pages: dict[str, str]) -> None:
    for screen in SCREENS:
        address, _, anchor = help_at(screen).partition("#")
        assert f'id="{anchor}"' in pages[address], screen
    assert help_at("list/EV1") == "/help/ground-support#list"
    assert help_at("nowhere") == "/help"


def test_every_page_of_the_tool_leads_to_the_help() -> None:
    def leads(shown: Screen) -> bool:
        return re.search(r'<a href="/help[^"]*"[^>]*>Help</a>', shown.page) is not None

    parts = "/spare"  # A part for the script, shown within a page.
    lost = [each.address for each in screens() if not each.address.endswith(parts) and not leads(each)]
    assert lost == []


def test_every_link_of_the_help_leads_to_a_place_that_is_there(pages: dict[str, str]) -> None:
    for address, page in pages.items():
        for link in re.findall(r'href="(/help[^"]*|#[^"]*)"', page):
            target, _, anchor = (address + link if link.startswith("#") else link).partition("#")
            assert target in pages, (address, link)
            assert not anchor or f'id="{anchor}"' in pages[target], (address, link)


def test_no_place_of_a_page_has_the_name_of_another(pages: dict[str, str]) -> None:
    for address, page in pages.items():
        named = re.findall(r'\bid="([^"]*)"', page)
        twice = {each for each in named if named.count(each) > 1}
        assert not twice, address


def test_every_section_is_in_the_list_of_its_page(pages: dict[str, str]) -> None:
    for address, page in pages.items():
        listed = set(re.findall(r'<a href="#([^"]+)"', page.partition("help-contents")[2].partition("</nav>")[0]))
        sections = set(re.findall(r'<section[^>]*\bid="([^"]+)"', page))
        assert sections, address
        assert sections <= listed, address


def keys_of_the_list() -> set[str]:
    """The keys that the tool's own list names, in Replay too."""
    return set(re.findall(r"<kbd>([^<]+)</kbd>", (HOME / "templates" / "_keys.html").read_text()))


def keys_of_the_script() -> set[str]:
    """The keys that do something, by the script's own table."""
    table = re.search(r"const KEYS = \{(.*?)\n  \};", (HOME / "static" / "keys.js").read_text(), re.S)
    assert table is not None
    return {name.strip('"') for name in re.findall(r'^    ("?[^\s:]+"?):', table[1], re.M)}


def explained_keys(page: str) -> set[str]:
    return {
        key.words() or "".join(str(piece) for piece in key.pieces)
        for term in tree(page).walk()
        if term.tag == "dfn"
        for key in term.walk()
        if key.tag == "kbd"
    }


def test_every_key_is_explained(pages: dict[str, str]) -> None:
    known = explained_keys(pages["/help"])
    assert keys_of_the_list() - known == set()
    assert {each.casefold() for each in keys_of_the_script()} - {each.casefold() for each in known} == set()
    assert {"U", "Enter", "Space", "?"} <= known


def test_a_new_key_without_help_is_found_out(pages: dict[str, str]) -> None:
    known = explained_keys(pages["/help"])
    assert "W" not in known
    assert len(keys_of_the_list()) > 25
    assert len(keys_of_the_script()) > 18
    assert explained_keys(pages["/help"].replace("<kbd>U</kbd>", "")) == known - {"U"}
