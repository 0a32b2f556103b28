"""Every label of every screen is explained in the help, found there word for word in a ``<dfn>``."""

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from app.settings import HOME
from app.web.help import words
from app.web.help_words import ANY, PAGES, Explained
from tests.web.help_labels import labels
from tests.web.help_screens import Screen, screens, unexplained
from tests.web.site import Site

WRITTEN = re.compile(r"""(?:button\(|make\("(?:label|button)", |textContent: )(["`])([^"`]+)\1""")
"""How the scripts make what is pressed or filled in: a button, a label, the words of either."""
SCRIPTS = sorted((HOME / "static").glob("*.js"))


@pytest.fixture(scope="module")
def shown() -> tuple[Screen, ...]:
    return screens()


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Explained, ...]]:
    with Site(tmp_path_factory.mktemp("help")) as site:
        yield words(site.shell.renderer, site.shell.settings.static)


def test_every_label_of_every_screen_is_explained(shown: tuple[Screen, ...], known: tuple[Explained, ...]) -> None:
    missing = {(each.name, text): each.address for each in shown for text in unexplained(known, each)}
    assert not missing


def test_the_screens_have_labels_in_every_state_that_is_looked_at(shown: tuple[Screen, ...]) -> None:
    """So that the test above does not pass because nothing was found."""
    found = {text for each in shown for text in labels(each.page)}
    assert len(found) > 400
    for told in (
        *("Chance to finish in time", "HOLD", "WARNING", "NOT AT HAND", "TURN-BACK TIME PASSED", "AT ITS RESERVE"),
        *("Put off so far", "Without this one", "Not back: 2 tools", "Take all 2", "What lifts the no-go of EV1"),
        *("Reopen bring-spare/1", "Simulated people", "Moment of the run", "Against plan", "Set right"),
        "Store as a new revision",
    ):
        assert told in found, told


@pytest.mark.parametrize(
    "added",
    [
        "<button>Warp the mast</button>",
        "<label>Warp factor <input name=x></label>",
        "<h2>Warp <span class='quiet'>· 4</span></h2>",
        "<table><thead><tr><th scope='col'>Warp</th></tr></thead></table>",
        "<dl><dt>Warp by</dt><dd>4</dd></dl>",
        "<details><summary>Warps</summary></details>",
        "<p><b>WARPED</b> since 4</p>",
        "<fieldset><legend>Warps to count</legend></fieldset>",
    ],
)
def test_a_new_label_without_help_is_found_out(
    shown: tuple[Screen, ...], known: tuple[Explained, ...], added: str
) -> None:
    desk = next(each for each in shown if each.name == "desk")
    changed = replace(desk, page=desk.page.replace("</main>", f"{added}</main>"))
    assert [text for text in unexplained(known, changed) if "warp" in text.casefold()]


def test_a_label_whose_help_is_taken_away_is_found_out(shown: tuple[Screen, ...], known: tuple[Explained, ...]) -> None:
    without = tuple(each for each in known if each.word != "Chance to finish in time")
    assert len(without) < len(known)
    lead = next(each for each in shown if each.name == "lead")
    assert "Chance to finish in time" in unexplained(without, lead)


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_what_a_script_adds_to_be_pressed_or_filled_in_is_explained(script: Path, known: tuple[Explained, ...]) -> None:
    found = [re.sub(r"\$\{[^}]*\}", "EV1", text).strip() for _, text in WRITTEN.findall(script.read_text())]
    assert not [text for text in found if not any(each.matches(text) for each in known)]


def test_scripts_do_add_such_words() -> None:
    found = [text for path in SCRIPTS for _, text in WRITTEN.findall(path.read_text())]
    assert {"Send again", "Drop it for good", "Take it back"} <= set(found)


@pytest.mark.parametrize("word", ["Live", "Connecting", "Not connected", "STALE: not connected", "Signed out"])
def test_each_state_of_the_link_is_explained(word: str, known: tuple[Explained, ...]) -> None:
    assert f'"{word}' in (HOME / "static" / "figures.js").read_text()
    assert any(each.matches(word) for each in known)


def test_no_explained_word_stands_for_nearly_everything(known: tuple[Explained, ...]) -> None:
    assert {each.page for each in known} == set(PAGES)
    for each in known:
        assert ANY not in each.word or len(re.findall(r"[A-Za-z]", each.word)) >= 2, each
    nonsense = ("Xyzzy", "Xyzzy of the Xyzzies", "Xyzzy 14", "14 Xyzzy", "Xyzzy: Xyzzy, Xyzzy")
    assert not [(each, text) for each in known for text in nonsense if each.matches(text)]
