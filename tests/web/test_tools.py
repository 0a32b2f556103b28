"""Tools on the pages: the table, the moves, what is at hand, and the list of what is not back."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.web.site import Site, words

SHED = b"""
procedure: shed
title: Mend the shed
zero: Door open
crew:
  ANA: {does: Roof}
  BEN: {does: Floor}
  CHI: {does: Watches}
limits: {finish: 3:00, close_out: home}
tools: [saw, file, lamp]
tasks:
  - {task: cut, title: Cut the beam, who: ANA, where: roof, needs: [saw], steps: [{do: Saw through, takes: 5 min}]}
  - {task: trim, title: Trim the board, who: BEN, needs: [saw, file], steps: [{do: Trim it, takes: 5 min}]}
  - {task: home, title: Lock up, who: [ANA, BEN], after: [cut, trim], steps: [{do: Lock up, takes: 5 min}]}
  - {task: oil, title: Oil the hinge, who: BEN, get_ahead: true, needs: [lamp], steps: [{do: Oil it, takes: 2 min}]}
"""


class Shed:
    """A run of it, and the pages that show its tools."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self.run = site.start(SHED)

    def move(self, tool: str, how: str, person: str = "", **more: str) -> None:
        answer = self.site.order(self.run, "tool", hx=False, tool=tool, how=how, person=person, **more)
        assert answer.status_code == 303, words(answer.text)

    def refused(self, do: str, **fields: str) -> str:
        answer = self.site.order(self.run, do, hx=False, **fields)
        assert answer.status_code in (409, 422), answer.status_code
        return words(answer.text)

    def part(self, page: str, part: str = "tools") -> str:
        found = re.search(rf'<section id="{part}".*?</section>', self.site.page(f"/runs/{self.run}/{page}"), re.S)
        assert found is not None
        return found[0]

    def row(self, tool: str, page: str = "desk") -> str:
        rows = re.findall(r"<tr class=.*?</tr>", self.part(page), re.S)
        return str(next(row for row in rows if f'<th scope="row">{tool}</th>' in row))


@pytest.fixture
def shed(tmp_path: Path) -> Iterator[Shed]:
    with Site(tmp_path) as site:
        yield Shed(site)


def _buttons(part: str) -> list[str]:
    return re.findall(r"<button[^>]*>([^<]*)</button>", part)


@pytest.mark.parametrize("page", ["desk", "lead"])
def test_the_table_says_where_each_tool_is_and_what_still_needs_it(shed: Shed, page: str) -> None:
    shed.site.clock.at_s = 70
    shed.move("saw", "taken", "ANA")
    row = words(shed.row("saw", page))
    assert "ANA has it since 00:01:10" in row
    assert "Cut the beam" in row
    assert "Trim the board: not at hand" in row
    assert "Cut the beam: not at hand" not in row
    assert "no record: never taken out" in words(shed.row("file", page))
    assert "Tools · 1 of 3 out" in words(shed.part(page))


def test_the_likely_next_moves_are_one_press(shed: Shed) -> None:
    assert _buttons(shed.row("saw")) == ["ANA takes it", "BEN takes it"]
    assert _buttons(shed.row("lamp")) == []
    shed.move("saw", "taken", "ANA")
    assert _buttons(shed.row("saw")) == ["To BEN", "Stow"]
    shed.move("saw", "left", "ANA", where="roof")
    assert _buttons(shed.row("saw")) == ["ANA takes it", "BEN takes it", "Stow"]
    assert "not at hand" in words(shed.row("saw")).split("Trim the board")[1]
    shed.move("saw", "lost", reason="rolled off the roof")
    assert _buttons(shed.row("saw")) == ["ANA found it", "BEN found it"]
    assert "LOST" in words(shed.row("saw"))
    shed.move("saw", "found", "BEN")
    shed.move("saw", "stowed")
    assert _buttons(shed.row("saw")) == ["ANA takes it", "BEN takes it"]


def test_a_press_of_a_row_carries_all_that_it_orders(shed: Shed) -> None:
    shed.move("saw", "taken", "ANA")
    sent = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', shed.row("saw").split("To BEN")[0]))
    answer = shed.site.post(f"/runs/{shed.run}/orders", data=sent)
    assert answer.status_code == 303
    assert "BEN has it" in words(shed.row("saw"))


def test_a_refused_move_says_why_and_moves_nothing(shed: Shed) -> None:
    shed.move("saw", "taken", "ANA")
    assert "ANA has saw already" in shed.refused("tool", tool="saw", how="handed", person="ANA")
    assert "its crew is ANA, BEN and CHI" in shed.refused("tool", tool="saw", how="handed", person="DAN")
    assert "Say where saw was left" in shed.refused("tool", tool="saw", how="left")
    assert "ANA has it" in words(shed.row("saw"))


def test_a_move_is_entered_late_and_the_log_tells_it(shed: Shed) -> None:
    shed.site.clock.at_s = 300
    shed.move("saw", "taken", "ANA", at="-2 min")
    assert "since 00:03:00" in words(shed.row("saw"))
    shed.move("saw", "left", where="ladder", at="0:04:00")
    log = words(shed.site.page(f"/runs/{shed.run}/log"))
    assert "Tool taken out: saw, ANA has it" in log
    assert "Tool left: saw at ladder, by ANA" in log
    assert "can't be entered any more" in shed.refused("tool", tool="saw", how="stowed", at="0:03:30")


def test_my_list_shows_what_this_person_has_and_needs_and_no_other_tool(shed: Shed) -> None:
    shed.move("saw", "taken", "ANA")
    assert "You have: saw" in words(shed.part("list/ANA"))
    assert "file" not in re.findall(r'<th scope="row">([^<]*)</th>', shed.part("list/ANA"))
    ben = words(shed.part("list/BEN"))
    assert "No tool is recorded with you" in ben
    assert "Trim the board: not at hand" in ben
    assert _buttons(shed.row("saw", "list/ANA")) == ["To BEN", "Stow"]
    assert _buttons(shed.row("saw", "list/BEN")) == ["Handed to me"]
    assert _buttons(shed.row("file", "list/BEN")) == ["I take it"]
    assert "<table" not in shed.part("list/CHI")


def test_an_item_whose_tool_is_elsewhere_is_listed_with_the_reason(shed: Shed) -> None:
    shed.move("lamp", "taken", "CHI")
    assert "lamp: CHI has it; hand it over first" in words(shed.site.page(f"/runs/{shed.run}/lead"))
    assert "lamp: CHI has it" in shed.refused("take", task="oil")


def test_the_list_of_what_is_not_back_comes_up_with_close_out(shed: Shed) -> None:
    shed.move("saw", "taken", "ANA")
    shed.move("file", "taken", "BEN")
    for page in ("desk", "lead", "list/ANA"):
        assert "Not back" not in shed.part(page, "back")
    shed.site.clock.at_s = 600
    shed.site.done(shed.run, "cut/1")
    for page in ("desk", "lead", "list/ANA", "list/BEN"):
        assert "Not back: 2 tools" in words(shed.part(page, "back")), page
    assert "Not back" not in shed.part("list/CHI", "back")
    assert "Without a record, so never taken out: lamp." in words(shed.part("desk", "back"))
    shed.move("file", "lost", reason="fell between the boards")
    found = shed.part("desk", "back")
    assert "LOST 00:10:00, BEN had it: fell between the boards" in words(found)
    assert _buttons(found) == ["Stowed", "Leave it outside", "Stowed", "Found", "Leave it outside"]


def test_the_run_ends_when_each_tool_is_accounted_for(shed: Shed) -> None:
    shed.move("saw", "taken", "ANA")
    shed.move("file", "taken", "BEN")
    shed.move("file", "lost", reason="fell between the boards")
    shed.site.clock.at_s = 600
    shed.site.done(shed.run, "cut/1", "trim/1", "home/1")
    assert "Not yet: saw (ANA has it since 00:00:00); file (LOST" in words(shed.part("desk", "desk-end"))
    said = shed.refused("end", reason="in")
    assert "Not back: saw" in said
    assert "file (LOST" in said
    shed.move("saw", "stowed")
    shed.move("file", "left outside", reason="under the floor")
    assert "All tools are back." in words(shed.part("desk", "back"))
    assert "Not yet" not in shed.part("desk", "desk-end")
    assert shed.site.order(shed.run, "end", reason="in").status_code == 303
    ended = shed.part("desk")
    assert "left outside for good, 00:10:00: under the floor" in words(ended)
    assert "<form" not in ended
    assert "All tools" not in shed.part("desk", "back")


def test_a_past_moment_shows_the_tools_as_they_were_and_nothing_to_press(shed: Shed) -> None:
    shed.move("saw", "taken", "ANA")
    shed.site.clock.at_s = 120
    shed.move("saw", "handed", "BEN")
    past = shed.part("desk?at=0:01:00")
    assert "ANA has it since 00:00:00" in words(past)
    assert "<form" not in past


def test_a_procedure_without_tools_shows_no_part_of_them(tmp_path: Path) -> None:
    with Site(tmp_path) as site:
        page = site.page(f"/runs/{site.start()}/desk")
    assert re.search(r'<section id="tools" class="[^"]*nothing', page)
    assert re.search(r'<section id="back" class="[^"]*nothing', page)


def test_names_and_words_of_tools_are_text(shed: Shed) -> None:
    shed.move("saw", "taken", "ANA")
    shed.move("saw", "left", where="<b>roof</b>", reason="<script>1</script>")
    assert "&lt;b&gt;roof" in shed.row("saw")
    assert "<script>1" not in shed.site.page(f"/runs/{shed.run}/lead")
