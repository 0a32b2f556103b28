"""`leadline new`, and the README's first ten minutes: its commands run as they stand, to a mark in the log."""

import re
import shlex
from pathlib import Path

import httpx
import pytest

from tests.ports import free_port
from tests.served import ROOT, called, leadline, served
from tests.web.site import forms, words

FIRST = Path("procedures/first-outing.yaml")
README = (ROOT / "README.md").read_text(encoding="utf-8")
SECTION = README.partition("## Your first ten minutes\n")[2].partition("\n## ")[0]
COMMANDS = [line for block in re.findall(r"```sh\n(.*?)```", SECTION, re.S) for line in block.splitlines()]
SHOWN = re.findall(r"```text\n(.*?)```", SECTION, re.S)


def _words(command: str) -> list[str]:
    name, *said = shlex.split(command)
    assert name == "leadline"
    return said


def test_new_writes_a_file_and_says_what_to_do_next(tmp_path: Path) -> None:
    said = called("new", "outing", "--title", "Lamp on the mast", "--people", "ANA, BEN", folder=tmp_path)
    assert said.returncode == 0
    assert "leadline check outing.yaml" in said.stdout
    assert "leadline serve --procedures ." in said.stdout
    text = (tmp_path / "outing.yaml").read_text(encoding="utf-8")
    assert "procedure: outing\n" in text
    assert 'title: "Lamp on the mast"\n' in text
    assert "  ANA: {does:" in text
    assert "outing.yaml: sound, 8 steps" in called("check", "outing.yaml", folder=tmp_path).stdout


def test_new_never_writes_over_a_file(tmp_path: Path) -> None:
    (tmp_path / "mine.yaml").write_text("mine")
    said = called("new", "mine.yaml", folder=tmp_path)
    assert said.returncode == 2
    assert said.stderr.startswith("mine.yaml is there already")
    assert (tmp_path / "mine.yaml").read_text() == "mine"


REFUSED = {
    "no name": ([""], "that is a folder. Name the file"),
    "a folder": (["./"], "that is a folder. Name the file"),
    "a table": (["a.csv"], "leadline template --to a.csv"),
    "a name with signs": (["a+b.yaml"], "“a+b” can't be the name of a procedure"),
    "one person": (["a.yaml", "--people", "EV1"], "name two or more"),
    "a person twice": (["a.yaml", "--people", "EV1,EV1"], "somebody is named twice"),
    "a person with a blank": (["a.yaml", "--people", "EV 1,EV2"], "“EV 1” can't be a designator"),
    "a title that no file may hold": (["a.yaml", "--title", "\u202ea"], "Nothing was written."),
    "a folder in a folder that is not there": (["x/y/a.yaml"], "can't be written: No such file"),
}


@pytest.mark.parametrize(("said", "why"), REFUSED.values(), ids=REFUSED)
def test_new_refuses_in_words_what_would_not_be_a_sound_file(said: list[str], why: str, tmp_path: Path) -> None:
    answer = called("new", *said, folder=tmp_path)
    assert answer.returncode == 2
    assert why in answer.stderr
    assert not list(tmp_path.rglob("*.*"))


def test_check_shows_the_line_with_a_mark_as_the_readme_has_it(tmp_path: Path) -> None:
    made = leadline(*_words(COMMANDS[0]), folder=tmp_path)
    assert made.returncode == 0, made.stderr
    file = tmp_path / FIRST
    file.write_text(file.read_text(encoding="utf-8").replace("takes: 6 min", "takes: 6", 1), encoding="utf-8")
    said = leadline("check", FIRST, folder=tmp_path)
    assert said.returncode == 1
    assert [said.stdout] == SHOWN


def test_the_commands_of_the_readme_lead_from_nothing_to_a_mark_in_the_log(tmp_path: Path) -> None:
    new, check, serve, export = COMMANDS
    assert leadline(*_words(new), folder=tmp_path).returncode == 0
    checked = leadline(*_words(check), folder=tmp_path)
    assert checked.stdout == f"{FIRST}: sound, 8 steps, plan finish 00:33:00\n"
    with served([*_words(serve), "--port", str(free_port())], tmp_path) as server:
        _rehearse(server.address)
        server.stop()
    exported = leadline(*_words(export), folder=tmp_path)
    assert exported.returncode == 0, exported.stderr
    assert "Leave the hatch" in (tmp_path / "first-run.csv").read_text(encoding="utf-8-sig")


def _rehearse(address: str) -> None:
    """What the README says to do in the browser, by the forms of the pages."""
    with httpx.Client(base_url=address, headers={"Origin": address.rstrip("/")}, follow_redirects=True) as browser:
        home = browser.get("/").text
        assert "Choose a procedure" in words(home)
        start = next(form for form in forms(home) if form["action"] == "/runs")
        desk = browser.post("/runs", data={**start, "kind": "rehearsal"})
        assert desk.url.path == "/runs/1/desk"
        for press in ("EV1 has acknowledged", "EV2 has acknowledged", "Done"):
            desk = browser.post("/runs/1/orders", data=_press(desk.text, press))
            assert desk.status_code == 200, words(desk.text)
        log = words(browser.get("/runs/1/log").text)
        assert "go-out/1" in log
        assert "Rehearsal 1 is under way: First outing." in words(browser.get("/").text)


def _press(page: str, label: str) -> dict[str, str]:
    """The fields that a press of the button with this label sends; its form is the one around it."""
    at = page.index(label)
    begin, end = page.rindex("<form", 0, at), page.index("</form>", at)
    button = page[page.rindex("<button", 0, at) : at]
    fields = forms(page[begin : end + len("</form>")])[0]
    for name, value in re.findall(r'name="([^"]*)" value="([^"]*)"', button):
        fields[name] = value
    return {name: text for name, text in fields.items() if name not in ("method", "action")}
