"""A procedure with rounds and gauges, for the tests of those parts; and what they read from a page."""

import re

from app.core.times import read_clock
from tests.web.site import Site

FIELD = b"""\
procedure: field
title: Field day
crew: {EV1: {does: Left}, EV2: {does: Right}}
on_plan_within: 0 s
limits: {finish: 4:00, close_out: home}
rounds:
  - {round: <b>gloves</b>, asks: "Any damage? {{7*7}}", who: [EV1, EV2], every: 60 min}
supplies:
  - {supply: battery, who: [EV1, EV2], unit: "%", reserve: 12}
tasks:
  - {task: dig, title: Dig, who: EV1, steps: [{do: Dig, takes: 2 h}]}
  - {task: home, title: Home, who: [EV1, EV2], after: [dig], steps: [{do: Go home, takes: 10 min}]}
"""
GLOVES = "<b>gloves</b>"


def part(page: str, name: str) -> str:
    found = re.search(rf'<section id="{name}".*?</section>', page, re.S)
    assert found is not None, name
    return found[0]


def at(site: Site, clock: str) -> None:
    """Set the clock of the run forward."""
    site.clock.at_s = read_clock(clock)


def shown(site: Site, run: int, page: str, name: str) -> str:
    """One part of one page."""
    return part(site.page(f"/runs/{run}/{page}"), name)


def read_gauge(site: Site, run: int, readings: dict[str, float], person: str = "EV1", anew: str = "") -> None:
    """Each value at its clock, as it happens."""
    for clock, value in readings.items():
        at(site, clock)
        answer = site.order(run, "reading", supply="battery", person=person, value=f"{value:.15g}", anew=anew)
        assert answer.status_code == 303, answer.text
