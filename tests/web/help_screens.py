"""Every screen of the tool, in states that show all of its labels, for the tests of the help. No test of its own.

``python -m tests.web.help_screens`` prints the labels that no page of the help explains.
"""

import re
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from unittest.mock import patch

from app.core.procedure import Procedure
from app.core.times import read_clock
from app.demo import SAMPLE, history
from app.service.values import Sender
from app.settings import HOME
from app.web.help import words
from app.web.help_words import Explained
from app.web.keys import new_key
from tests.web.accounts import NAMES, PASSWORD, Browser, quick, with_people
from tests.web.finished import finished
from tests.web.help_labels import labels
from tests.web.site import Site
from tests.web.yard import YARD

ENDING = b"""\
procedure: ending
title: Close the shed
crew: {EV1: {does: Left}, EV2: {does: Right}}
limits: {finish: 1:00, close_out: home}
tools: [rake, saw, broom]
supplies: [{supply: battery, who: [EV1, EV2], unit: "%", reserve: 12}]
rounds: [{round: gloves, asks: "Any damage?", who: [EV1, EV2], every: 10 min}]
tasks:
  - {task: dig, title: Dig, who: EV1, needs: [rake], steps: [{do: Dig, takes: 20 min, warning: Wet, count: 2}]}
  - {task: home, title: Home, who: [EV1, EV2], after: [dig], steps: [{do: Go home, takes: 10 min}]}
"""


@dataclass(frozen=True, slots=True)
class Screen:
    """A page as it was served: the screen's name in the help, its address, the page, and the texts that are data."""

    name: str
    address: str
    page: str
    data: frozenset[str]


def data_of(procedure: Procedure) -> frozenset[str]:
    """What a procedure itself says, which no help explains."""
    people = [text for one in procedure.crew for text in (one.designator, one.does, f"{one.designator} {one.does}")]
    tasks = [text for one in procedure.tasks for text in (one.id, one.title, f"at {one.where}")]
    steps = [text for one in procedure.steps for text in (one.do, *(f"{each.name} {each.unit}" for each in one.record))]
    asked = [text for one in procedure.rounds for text in (one.name, one.asks)]
    gauges = [text for one in procedure.supplies for text in (one.name, f"{one.name} {one.unit}")]
    return frozenset([procedure.title, *people, *tasks, *steps, *asked, *gauges, *procedure.tools])


@cache
def screens() -> tuple[Screen, ...]:
    """All of them, each as it was asked for in the state that its run was in by then."""
    return tuple(_screens())


def _screens() -> Iterator[Screen]:
    with tempfile.TemporaryDirectory() as folder, Site(Path(folder)) as site:
        yield from _outside(site)
        yield from _sample(site)
        yield from _yard(site)
        yield from _ending(site)
        yield from _told(site)
    quickly = patch("app.service.passwords._hasher", quick)
    with quickly, tempfile.TemporaryDirectory() as folder, Site(Path(folder)) as site:
        yield from _accounts(site)


def _screen(site: Site, name: str, address: str, status: int = 200) -> Screen:
    answer = site.get(address)
    assert answer.status_code == status, (address, answer.status_code)
    return Screen(name, address, answer.text, _data(site))


def _data(site: Site) -> frozenset[str]:
    shelf = site.shell.service.shelf
    return frozenset().union(*(data_of(shelf.prepared(stored).procedure) for stored in shelf.revisions()))


def _outside(site: Site) -> Iterator[Screen]:
    for name, address in (
        *(("home", "/"), ("runs", "/runs"), ("people", "/people"), ("password", "/password"), ("sign-in", "/sign-in")),
        *(("api", "/api/docs"), ("compare", "/compare")),
    ):
        yield _screen(site, name, address)
    yield _screen(site, "home", "/runs/99/desk", 404)
    refused = site.post("/procedures", data={"text": "procedure: half"})
    yield Screen("home", "/procedures", refused.text, frozenset())


def _order(site: Site, run: int, do: str, **fields: str) -> None:
    answer = site.post(f"/runs/{run}/orders", data={"do": do, "page": "desk", **fields})
    assert answer.status_code == 303, (do, re.findall(r'role="alert">(.*?)</p>', answer.text, re.S))


BOARDS = (("desk", "desk"), ("lead", "lead"), ("log", "log"), ("handover", "handover"), ("plan", "plan"))


def _boards(site: Site, run: int, person: str = "EV1") -> Iterator[Screen]:
    for name, page in (*BOARDS, ("list", f"list/{person}"), ("trainer", "trainer"), ("debrief", "debrief")):
        yield _screen(site, name, f"/runs/{run}/{page}")


def _sample(site: Site) -> Iterator[Screen]:
    """The demo's rehearsal, and what can be done in it."""
    text = (HOME / "procedures" / f"{SAMPLE}.yaml").read_bytes()
    run = site.start(text)
    service = site.shell.service
    for entered, command, happened in history():
        site.clock.at_s = read_clock(entered)
        said = None if happened is None else read_clock(happened)
        service.order(run, command, Sender("Demo", "demo", new_key()), said).result()
        if entered in ("0:01:10", "0:39:10", "0:46:00", "1:01:10"):
            yield from (_screen(site, "desk", f"/runs/{run}/desk"), _screen(site, "lead", f"/runs/{run}/lead"))
    site.clock.at_s = read_clock("1:45:00")
    yield from _boards(site, run, "ARM")
    for do, fields in (
        ("poll", {"text": "Go for power?", "who": "EV1"}),
        ("flag", {"reason": "Glove scuffed", "person": "EV1"}),
        ("no-go", {"step": "bring-spare/2", "person": "EV1", "reason": "tether"}),
        ("poll-no-go", {"poll": "poll-1", "person": "EV1", "reason": "busy"}),
        ("hand-over", {"to": "Late shift", "reason": "battery"}),
    ):
        _order(site, run, do, **fields)
    yield from _boards(site, run, "EV1")
    for page in ("desk", "lead", "list/EV2", "handover"):
        yield _screen(site, "replay", f"/runs/{run}/{page}?at=1:10:00")
    yield Screen("desk", "a refusal", site.order(run, "mark", step="new-in/1").text, _data(site))
    yield _screen(site, "desk", f"/runs/{run}/spare")
    revision = site.json(f"/api/runs/{run}")["revision"]
    for name, page in (("plan", ""), ("sheets", "/briefing"), ("sheets", "/lists"), ("durations", "/durations")):
        yield _screen(site, name, f"/procedures/{revision}{page}")


def _yard(site: Site) -> Iterator[Screen]:
    """A run behind its plan, in which work can be put off, taken, ordered anew."""
    began_s = site.clock.at_s
    run = site.start(YARD)
    yield from (_screen(site, "lead", f"/runs/{run}/lead"), _screen(site, "lead", f"/runs/{run}/lead?if=nonsense"))
    yield _screen(site, "lead", f"/runs/{run}/lead?if=put+off+gate&if=swap+dig+and+fence")
    yield _screen(site, "lead", f"/runs/{run}/lead?if=put+off+gate&if=put+off+paint")
    for do, fields in (
        ("take", {"task": "rake"}),
        ("put-off", {"task": "gate", "reason": "rain"}),
        ("add-step", {"text": "Dig", "who": "EV2", "takes": "5 min", "reason": "mud"}),
        ("revise", {"step": "dig/1", "takes": "30 min", "reason": "stones"}),
        ("note", {"step": "dig/1", "reason": "stones"}),
        ("start", {"step": "dig/1"}),
    ):
        _order(site, run, do, **fields)
    site.clock.at_s = began_s + read_clock("0:36:00")
    yield from _boards(site, run)


def _ending(site: Site) -> Iterator[Screen]:
    """A run at its close-out with tools out, a supply at its reserve, and the turn-back time near and passed."""
    began_s = site.clock.at_s
    run = site.start(ENDING)

    def at(clock: str) -> None:
        site.clock.at_s = began_s + read_clock(clock)

    def order(do: str, **fields: str) -> None:
        _order(site, run, do, **fields)

    for tool, person in (("rake", "EV1"), ("saw", "EV2")):
        order("tool", tool=tool, how="taken", person=person)
    order("reading", supply="battery", person="EV1", value="100")
    yield _screen(site, "desk", f"/runs/{run}/desk")
    at("0:12:00")
    order("reading", supply="battery", person="EV1", value="60")
    order("acknowledge", step="dig/1", person="EV1")
    order("count", step="dig/1", number="1")
    yield from _boards(site, run)
    at("0:26:00")
    yield from _boards(site, run)
    order("count", step="dig/1", number="2")
    order("tool", tool="saw", how="lost", person="EV2", reason="fell")
    order("reading", supply="battery", person="EV1", value="11")
    yield from _boards(site, run)
    at("0:50:00")
    order("mark", step="home/1", at="0:48:00")
    yield from _boards(site, run)
    for tool in ("rake", "saw"):
        order("tool", tool=tool, how="left outside", reason="frozen")
    order("end", reason="inside")
    yield from _boards(site, run)


def _told(site: Site) -> Iterator[Screen]:
    """Two finished runs of one procedure, and what is told of them."""
    first, second = finished(site), finished(site, 300, put_off=False)
    yield from _boards(site, second)
    yield _screen(site, "compare", f"/compare?run={first}&run={second}")
    revision = site.json(f"/api/runs/{first}")["revision"]
    yield _screen(site, "durations", f"/procedures/{revision}/durations")
    yield _screen(site, "durations", f"/procedures/{revision}/durations?simulated=1&kind=live")
    chosen = {"kind": "both", "step": "rig/2", "run": [str(first), str(second)]}
    answer = site.post(f"/procedures/{revision}/durations", data=chosen)
    yield Screen("durations", "its review", answer.text, _data(site))
    yield from (_screen(site, "home", "/"), _screen(site, "runs", "/runs?find=mast"), _screen(site, "runs", "/runs"))


def _accounts(site: Site) -> Iterator[Screen]:
    """What is shown where people have accounts."""
    browsers = with_people(site)
    for right in ("watch", "lead", "keep"):
        who = browsers[right]
        for name, address in (("home", "/"), ("password", "/password"), ("people", "/people")):
            yield Screen(name, address, who.get(address).text, frozenset(NAMES.values()))
    wrong = Browser(site).sign_in("Kofi", f"{PASSWORD}?")
    yield Screen("sign-in", "/sign-in", wrong.text, frozenset(NAMES.values()))


DATA = (
    r"[0-9hms ]+, [0-9hms ]+, [0-9hms ]+",  # A proposal to tick: three durations.
    r"Run [0-9]+ · .*",  # A run to tick.
)
"""What else is data: whole labels that are made of it."""


def _is_data(text: str) -> bool:
    return any(re.fullmatch(pattern, text) for pattern in DATA)


def unexplained(known: tuple[Explained, ...], shown: Screen) -> list[str]:
    """The labels of a screen that no page of the help explains; what the procedure says is no label."""
    data = {text.casefold().rstrip(" .?") for text in shown.data}
    missing = [text for text in labels(shown.page) if text.casefold().rstrip(" .?") not in data and not _is_data(text)]
    return [text for text in missing if not any(each.matches(text) for each in known)]


def main() -> None:
    found: dict[str, dict[str, str]] = {}
    with tempfile.TemporaryDirectory() as folder, Site(Path(folder)) as site:
        known = words(site.shell.renderer, site.shell.settings.static)
    for shown in screens():
        for text in unexplained(known, shown):
            found.setdefault(shown.name, {}).setdefault(text, shown.address)
    for name, texts in found.items():
        print(f"{name}: {len(texts)}")
        for text, address in texts.items():
            print(f"    {text}    ({address})")


if __name__ == "__main__":
    main()
