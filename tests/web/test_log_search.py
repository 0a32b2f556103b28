"""Looking through the log: by words, by kinds, kept across orders; and mending entries from it."""

import re
from urllib.parse import quote_plus

import pytest

from tests.service.making import SAMPLES
from tests.web.site import HX, Site, words
from tests.web.test_polls import form_that, last, part


def told(site: Site) -> int:
    """A run with an entry of each kind. The mast is raised out of its tolerance, with the lead's acceptance."""
    run = site.start()
    site.clock.at_s = 300
    site.done(run, "rig/1")
    site.order(run, "note", reason="Größe of the bolt is ODD", person="EV1")
    site.clock.at_s = 600
    site.order(run, "mark", step="rig/2", value__angle="95")
    site.order(run, "accept", step="rig/2", reason="gauge reads high")
    site.order(run, "put-off", task="paint", reason="rain")
    site.order(run, "poll", text="Go home?")
    site.order(run, "poll-go", poll="poll-1", person="EV1")
    site.order(run, "flag", reason="Ladder is loose")
    return run


def entries(page: str) -> list[str]:
    """The entries that are shown, in words, the newest first."""
    listed = page.split('<ol class="log"')[1].split("</ol>")[0]
    return [words(each) for each in re.findall(r'<span class="what">(.*?)<span class="small quiet">', listed, re.S)]


def found(site: Site, run: int, query: str) -> list[str]:
    return entries(site.page(f"/runs/{run}/log?{query}"))


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("bolt", ["Note on EV1: Größe of the bolt is ODD"]),
        ("odd BOLT", ["Note on EV1: Größe of the bolt is ODD"]),
        ("GRÖSSE", ["Note on EV1: Größe of the bolt is ODD"]),
        ("tasksputoff", ["Put off: “Paint the foot”. rain"]),
        ("00:00:00", []),
        ("bolt ladder", []),
        ("<b>", []),
    ],
)
def test_all_words_must_stand_in_an_entry_in_large_or_small_letters(
    site: Site, typed: str, expected: list[str]
) -> None:
    run = told(site)
    shown = [each for each in found(site, run, f"find={quote_plus(typed)}") if not each.startswith("The run began")]
    assert shown == expected


def test_the_clock_who_said_it_and_the_station_can_be_looked_for(site: Site) -> None:
    run = told(site)
    everything = entries(site.page(f"/runs/{run}/log"))
    assert found(site, run, "find=00%3A05%3A00") == [
        "Note on EV1: Größe of the bolt is ODD",
        "Done: “Open the box” (rig/1)",
    ]
    assert found(site, run, "find=ground+support+station") == everything
    assert found(site, run, "find=") == everything


def test_a_mark_that_was_corrected_shows_old_and_new_and_is_found_by_both(site: Site) -> None:
    run = told(site)
    site.order(run, "correct", step="rig/1", at="0:04:00", reason="noted the wrong minute", page="log")
    (entry,) = found(site, run, "find=markcorrected")
    assert entry == "Mark corrected: “Open the box” (rig/1), time 00:04:00, was 00:05:00. noted the wrong minute" + (
        " entered 6m later"
    )
    assert found(site, run, "find=was+00%3A05%3A00+minute") == [entry]


KINDS = [
    ("marks", ["Called complete", "Done: “Open", "Done: “Raise"]),
    ("answers", ["EV1 is go (poll-1)", "Poll called (poll-1)"]),
    ("decisions", ["Put off", "The lead accepts"]),
    ("readings", []),
    ("tools", []),
    ("notes", ["FLAG on the run", "Note on EV1"]),
]


@pytest.mark.parametrize(("group", "beginnings"), KINDS, ids=[group for group, _ in KINDS])
def test_a_kind_can_be_looked_for_alone(site: Site, group: str, beginnings: list[str]) -> None:
    run = told(site)
    shown = sorted(found(site, run, f"only={group}"))
    assert len(shown) == len(beginnings)
    assert all(entry.startswith(beginning) for entry, beginning in zip(shown, beginnings, strict=True)), shown


def test_kinds_add_up_and_words_narrow_them(site: Site) -> None:
    run = told(site)
    assert len(found(site, run, "only=notes&only=decisions")) == 4
    assert found(site, run, "only=notes&only=decisions&find=rain") == ["Put off: “Paint the foot”. rain"]
    assert found(site, run, "only=nonsense") == entries(site.page(f"/runs/{run}/log"))


def test_the_hits_are_counted_in_words_and_none_is_said(site: Site) -> None:
    run = told(site)
    total = len(site.json(f"/api/runs/{run}/events"))
    assert f"1 of {total} entries" in words(site.page(f"/runs/{run}/log?find=bolt"))
    nothing = words(site.page(f"/runs/{run}/log?find=zebra"))
    assert f"0 of {total} entries" in nothing
    assert "Nothing in the log fits." in nothing
    assert f"of {total} entries" not in words(site.page(f"/runs/{run}/log"))


def test_what_is_looked_for_stays_in_the_box_and_goes_along_with_what_is_fetched(site: Site) -> None:
    run = told(site)
    page = site.page(f"/runs/{run}/log?find=%22bolt%22&only=notes")
    assert 'name="find" value="&#34;bolt&#34;"' in page
    assert 'class="have" name="find" value="&#34;bolt&#34;"' in page
    assert 'class="have" name="only" value="notes"' in page
    assert re.search(r'name="only" value="notes" checked', page)
    fetched = site.get(f"/runs/{run}/log?find=bolt&have=log:old", headers=HX)
    assert entries(fetched.text) == ["Note on EV1: Größe of the bolt is ODD"]


def test_an_order_from_the_log_comes_back_to_the_same_search(site: Site) -> None:
    run = told(site)
    fields = {"step": "rig/1", "find": "done", "only": "marks", "page": "log"}
    plain = site.order(run, "correct", hx=False, at="0:04:00", reason="misheard", **fields)
    assert plain.headers["location"] == f"/runs/{run}/log?find=done&only=marks"
    smooth = site.order(run, "correct", hx=True, at="0:03:00", reason="misheard", **fields)
    assert entries(smooth.text) == entries(site.page(f"/runs/{run}/log?find=done&only=marks"))
    assert len(entries(smooth.text)) == 3
    plain = site.order(run, "note", reason="well", page="desk", find="done")
    assert plain.headers["location"] == f"/runs/{run}/desk"


def test_a_mark_that_holds_is_corrected_from_the_log_and_one_that_does_not_hold_has_no_form(site: Site) -> None:
    run = told(site)
    log = part(site.page(f"/runs/{run}/log"), "log")
    form = form_that(log, "correct", step="rig/2")
    assert form["value:angle"] == "95"
    assert "at" in form
    site.order(run, "correct", step="rig/2", value__angle="89", reason="read upside down", page="log")
    kind, body = last(site, run)
    assert (kind, body["values_were"], body["values"]) == ("MarkCorrected", [["angle", 95.0]], [["angle", 89.0]])
    assert "angle 89 deg, was angle 95 deg" in words(site.page(f"/runs/{run}/log"))
    site.order(run, "reopen", step="rig/2", reason="it fell over", page="log")
    log = part(site.page(f"/runs/{run}/log"), "log")
    assert 'name="do" value="correct"' in log
    assert 'value="Correct rig/2"' not in log
    assert "Correct rig/2" not in words(log)


def test_a_reading_is_struck_out_from_the_log_and_stays_there_to_read(site: Site) -> None:
    run = site.start((SAMPLES / "pump-changeout.yaml").read_bytes())
    site.order(run, "reading", supply="battery", person="EV1", value="8")
    site.order(run, "round-bad", round="gloves-and-suit", person="EV2", reason="A cut")
    log = site.page(f"/runs/{run}/log")
    assert form_that(log, "strike", entry="2")["reason"] == ""
    assert form_that(log, "strike", entry="3")["reason"] == ""
    assert "why the entry is struck out" in words(site.order(run, "strike", entry="3", reason="", page="log").text)
    site.order(run, "strike", entry="3", reason="it was EV1", page="log")
    site.order(run, "strike", entry="2", reason="read 80 as 8", page="log")
    assert "open" not in words(part(site.page(f"/runs/{run}/lead"), "bar"))
    shown = words(site.page(f"/runs/{run}/log"))
    assert "Entry 3 struck out: it was EV1 – Round gloves-and-suit, EV2: BAD: A cut" in shown
    assert "Reading of battery, EV1: 8 %" in shown
    assert 'value="strike"' not in site.page(f"/runs/{run}/log")
    assert "no reading or answer" in words(site.order(run, "strike", entry="2", reason="again", page="log").text)


def test_an_ended_run_has_a_search_and_nothing_to_mend(site: Site) -> None:
    run = told(site)
    site.order(run, "end", reason="in")
    log = part(site.page(f"/runs/{run}/log?find=bolt"), "log")
    assert "Note on EV1" in words(log)
    assert 'method="post"' not in log
