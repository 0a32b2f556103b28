"""A small run in which all that is ahead has something to say, and readers of the Lead board. No test of its own."""

import html
import re
from typing import Any

from app.core.outlook import Outlook, outlook
from app.service.far import draw
from tests.web.site import HX, Site, words

YARD = b"""\
procedure: yard
title: Yard day
crew: {EV1: {does: Left}, EV2: {does: Right}}
on_plan_within: 0 s
limits: {finish: 0:52, close_out: home}
windows: {dry: [[0:00, 0:40], [0:44, 1:10]]}
tasks:
  - {task: dig, title: Dig the trench, who: EV1, steps: [{do: Dig, takes: 20 min}]}
  - {task: fence, title: Set the fence, who: EV1, may_put_off: true, worth: 4, steps: [{do: Set it, takes: 10 min}]}
  - {task: gate, title: Hang the gate, who: EV1, after: [fence], may_put_off: true, worth: 2,
     steps: [{do: Hang it, takes: 8 min}]}
  - {task: saw, title: Saw the planks, who: EV2, steps: [{do: Saw, takes: 25 min}]}
  - {task: paint, title: Paint the shed, who: EV2, after: [dig], within: dry, may_put_off: true, worth: 3,
     steps: [{do: Paint, takes: 10 min}]}
  - {task: home, title: Go home, who: [EV1, EV2], after: [dig, saw, gate, paint], steps: [{do: Shut up, takes: 10 min}]}
  - {task: rake, title: Rake the leaves, who: EV2, get_ahead: true, steps: [{do: Rake, takes: 1 min}]}
  - {task: stack, title: Stack the wood, who: EV2, get_ahead: true, steps: [{do: Stack, takes: 1 min 30 s}]}
"""
"""EV1: dig to 0:20, fence to 0:30, gate to 0:38. EV2: saw to 0:25, paint to 0:35. Home together, 0:38 to 0:48."""

LEAST = ("gate",)
MORE = ("gate", "paint")
ALL = ("fence", "gate", "paint")
"""The options at any time before the limit bites; `gate` goes along with `fence`."""


def ahead_of(site: Site, run: int, at_s: int | None = None) -> Outlook:
    """What the core says, asked anew and not by way of the page."""
    return outlook(site.shell.service.situation(run, at_s), draw)


def lead(run: int, *said: str, at: str = "") -> str:
    """The Lead board's address, with what is tried."""
    asked = "&".join([f"at={at}"] * bool(at) + [f"if={text.replace(' ', '+')}" for text in said])
    return f"/runs/{run}/lead" + f"?{asked}" * bool(asked)


def part(page: str, name: str) -> str:
    """One part of the Lead board."""
    found = re.search(rf'<section id="lead-{name}".*?</section>', page, re.S)
    assert found is not None, name
    return found[0]


def figure(page: str, name: str) -> str:
    """What stands where a figure is shown; the same wherever it is."""
    shown = set(re.findall(rf'data-fig="{re.escape(name)}">([^<]*)<', page))
    assert len(shown) == 1, (name, shown)
    return html.unescape(shown.pop())


def rows(text: str) -> list[list[str]]:
    """The cells of a part's table rows, in words."""
    return [
        [words(cell) for cell in re.findall(r"<t[hd]\b.*?</t[hd]>", row, re.S)]
        for row in re.findall(r"<tr\b.*?</tr>", text, re.S)
    ]


def kinds(site: Site, run: int) -> list[str]:
    return [each["kind"] for each in site.json(f"/api/runs/{run}/events")]


def sent_by(text: str, do: str, place: int = 0) -> dict[str, list[str]]:
    """The fields of a form that gives the order `do`, as a browser would send them; the `place`-th of its kind."""
    found = [each for each in re.findall(r"<form\b.*?</form>", text, re.S) if f'name="do" value="{do}"' in each]
    fields: dict[str, list[str]] = {}
    for field in re.findall(r"<input\b[^>]*>", found[place]):
        name, value = re.search(r'\bname="([^"]*)"', field), re.search(r'\bvalue="([^"]*)"', field)
        assert name is not None
        fields.setdefault(html.unescape(name[1]), []).append(html.unescape(value[1]) if value else "")
    return fields


def tried(page: str) -> list[str]:
    """What the page tries, as it sends it with everything it asks."""
    return [html.unescape(text) for text in re.findall(r'class="have" name="if" value="([^"]*)"', page)]


def last(site: Site, run: int) -> Any:
    """The body of the last event of the log."""
    return site.json(f"/api/runs/{run}/events")[-1]["body"]


def press(site: Site, run: int, fields: dict[str, list[str]], *, hx: bool = False, **more: str | list[str]) -> Any:
    return site.post(f"/runs/{run}/orders", data={**fields, **more}, headers=HX if hx else {})
