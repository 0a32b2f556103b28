"""Gauges on the pages: read, refused, struck out, drawn; and the limit that follows from them."""

import html
import re

import pytest

from app.core.supplies import MOST_READINGS, Line, fitted
from app.core.times import clock, read_clock
from tests.web.gauges import FIELD, at, read_gauge, shown
from tests.web.site import Site, words

FALLING = {"0:30:00": 90.0, "1:00:00": 75.0}
"""30 % an hour: 63 % down to the reserve of 12 is 2 h 6 min more."""


@pytest.fixture
def run(site: Site) -> int:
    return site.start(FIELD)


def test_a_soon_empty_gauge_is_the_limit_on_every_page(site: Site, run: int) -> None:
    read_gauge(site, run, FALLING)
    for page in ("desk", "lead", "log", "plan", "list/EV1", "handover"):
        assert "limit, EV1 battery at reserve 03:06:00" in words(site.page(f"/runs/{run}/{page}")), page
    told = words(shown(site, run, "lead", "supplies"))
    assert "75 % at 01:00:00 · falls 30 % an hour" in told
    assert "at its reserve of 12 % at 03:06:00 , in 2h 06m sets the limit" in told
    for name in ("lead-chart", "lead-figures"):
        assert "limit, EV1 battery at reserve" in words(shown(site, run, "lead", name))
    axis = re.search(r'<div id="desk-axis".*?</div>', site.page(f"/runs/{run}/desk"), re.S)
    assert axis is not None
    assert "limit, EV1 battery at reserve" in words(axis[0])


def test_programs_are_told_the_limit_and_what_sets_it(site: Site, run: int) -> None:
    told = site.json(f"/api/runs/{run}")
    assert (told["limit_s"], told["limit_by"], told["turn_back_s"]) == (14_400, None, 14_400 - 600)
    read_gauge(site, run, FALLING)
    told = site.json(f"/api/runs/{run}")
    assert (told["limit_s"], told["limit_by"]) == (read_clock("3:06:00"), "EV1 battery at reserve")
    assert told["turn_back_s"] == read_clock("2:56:00")


def test_the_plan_keeps_the_limit_of_the_file(site: Site, run: int) -> None:
    read_gauge(site, run, FALLING)
    plan = re.search(r'<div id="plan".*', site.page(f"/runs/{run}/plan"), re.S)
    assert plan is not None
    assert "Limit 04:00:00" in words(plan[0])
    assert "at reserve" not in words(plan[0])


def test_two_gauges_have_one_limit_the_sooner(site: Site, run: int) -> None:
    read_gauge(site, run, FALLING)
    read_gauge(site, run, {"1:05:00": 70.0, "1:15:00": 60.0}, person="EV2")
    told = words(shown(site, run, "lead", "supplies"))
    assert told.count("sets the limit") == 1
    assert "at 02:03:00 , in 48m sets the limit" in told


def test_a_wrong_reading_is_struck_out_with_a_reason_and_stays_in_the_log(site: Site, run: int) -> None:
    read_gauge(site, run, {"0:00:00": 7})
    entry = str(len(site.json(f"/api/runs/{run}/events")))
    assert f'name="entry" value="{entry}"' in shown(site, run, "desk", "supplies")
    assert site.order(run, "strike", entry=entry).status_code == 422
    assert site.order(run, "strike", entry=entry, reason="it was 70").status_code == 303
    assert "no reading yet" in words(shown(site, run, "desk", "supplies"))
    told = words(site.page(f"/runs/{run}/log"))
    assert f"Entry {entry} struck out: it was 70" in told
    assert "Reading of battery, EV1: 7 %" in told


def test_one_gauge_says_in_words_why_it_has_no_time(site: Site, run: int) -> None:
    def told() -> str:
        return words(shown(site, run, "desk", "supplies"))

    assert "no time to it: no reading yet" in told()
    read_gauge(site, run, {"0:00:00": 90})
    assert "no time to it: one reading is no rate" in told()
    read_gauge(site, run, {"0:10:00": 91})
    assert "no time to it: the readings don't fall" in told()
    read_gauge(site, run, {"0:10:00": 100}, anew="1")
    assert "no time to it: one reading is no rate" in told()


def test_at_its_reserve_it_says_so_and_since_when(site: Site, run: int) -> None:
    read_gauge(site, run, {"0:30:00": 40.0, "0:50:00": 12.0})
    at(site, "0:55:00")
    told = words(shown(site, run, "lead", "supplies"))
    assert "AT ITS RESERVE of 12 % since 00:50:00 , 5m ago sets the limit" in told


def test_a_reading_far_above_the_one_before_is_taken_and_asked_about(site: Site, run: int) -> None:
    read_gauge(site, run, {"0:10:00": 90.0, "0:20:00": 80.0, "0:30:00": 87.0})
    assert "above the one before" not in words(shown(site, run, "desk", "supplies"))
    read_gauge(site, run, {"0:40:00": 99.0})
    told = words(shown(site, run, "desk", "supplies"))
    assert "The last reading is 12 % above the one before. If it was exchanged or filled" in told


@pytest.mark.parametrize("typed", ["full", "", "9e9", "inf"])
def test_what_is_no_number_is_refused_and_nothing_is_stored(site: Site, run: int, typed: str) -> None:
    assert site.order(run, "reading", supply="battery", person="EV1", value=typed).status_code == 422
    assert len(site.json(f"/api/runs/{run}/events")) == 1


def test_a_number_that_no_gauge_shows_is_refused_and_the_pages_stay(site: Site, run: int) -> None:
    """The sums of the line would overflow, and the run could be shown no more."""
    for value in (1e308, -1e308):
        sent = {"do": "reading", "supply": "battery", "person": "EV1", "value": value}
        answer = site.post(f"/api/runs/{run}/orders", json=sent)
        assert answer.status_code == 422, answer.text
    assert "no reading yet" in words(shown(site, run, "desk", "supplies"))


def test_a_reading_heard_late_stands_at_its_time(site: Site, run: int) -> None:
    at(site, "1:00:00")
    for value, late in (("75", ""), ("90", "-30m")):
        answer = site.order(run, "reading", supply="battery", person="EV1", value=value, at=late, heard="1")
        assert answer.status_code == 303
    assert "75 % at 01:00:00 · falls 30 % an hour" in words(shown(site, run, "desk", "supplies"))


def test_a_list_has_its_own_gauges_alone(site: Site, run: int) -> None:
    told = shown(site, run, "list/EV2", "supplies")
    assert "EV2 battery" in words(told)
    assert "EV1" not in told
    assert 'name="heard"' not in told


def test_names_and_units_are_text(site: Site) -> None:
    text = FIELD.replace(b"supply: battery", b"supply: <i>oil</i>").replace(b'unit: "%"', b'unit: "<u>{{1}}"')
    run = site.start(text)
    answer = site.order(run, "reading", supply="<i>oil</i>", person="EV1", value="9")
    assert answer.status_code == 303
    for page in ("desk", "lead", "list/EV1"):
        told = shown(site, run, page, "supplies")
        assert "<i>" not in told
        assert "<u>" not in told
        assert "EV1 <i>oil</i>, <u>{{1}}: 9 at 00:00:00" in html.unescape(told)


# The chart


def spots_of(drawn: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r'<circle cx="([\d.]+)%" cy="([\d.]+)"', drawn)]


def line_of(drawn: str, look: str) -> list[float]:
    found = re.search(rf'class="{look}" x1="([\d.]+)%?" (?:x2="[\d.]+%" )?y1="([\d.]+)"', drawn)
    assert found is not None
    return [float(each) for each in re.findall(r'(?:x1|y1|x2|y2)="([\d.]+)', drawn[found.start() :].split("/>")[0])]


def drawn_of(site: Site, run: int) -> str:
    found = re.search(r"<svg role=\"img\".*?</svg>", shown(site, run, "desk", "supplies"), re.S)
    assert found is not None
    return found[0]


def line_through(readings: dict[str, float]) -> Line:
    found = fitted([(read_clock(at_clock), value) for at_clock, value in readings.items()])
    assert found is not None
    return found


def test_the_chart_shows_readings_line_reserve_and_now_where_they_are(site: Site, run: int) -> None:
    """Read back from the drawing: two places of the axes give the scales, all else must follow from them."""
    readings = {"0:20:00": 90.0, "0:40:00": 84.0, "1:00:00": 75.0}
    read_gauge(site, run, readings)
    at(site, "1:10:00")
    drawn, line = drawn_of(site, run), line_through(readings)
    until_s = line.reaches_s(12) or 0
    seconds = [read_clock(at_clock) for at_clock in readings]
    across = 100 / (int(until_s) - seconds[0])
    top = max(line.at(seconds[0]), 90.0)
    down = (62 - 10) / (top - 12)
    spots = spots_of(drawn)
    assert [x for x, _ in spots] == pytest.approx([(each - seconds[0]) * across for each in seconds], abs=0.01)
    assert [y for _, y in spots] == pytest.approx([10 + (top - value) * down for value in readings.values()], abs=0.01)
    begins_x, begins_y, ends_x, ends_y = line_of(drawn, "fitted")
    assert (begins_x, begins_y) == pytest.approx((0, 10 + (top - line.at(seconds[0])) * down), abs=0.01)
    assert (ends_x, ends_y) == pytest.approx((100, 62), abs=0.02)
    assert f'y1="{62.0}"' in re.findall(r'<line class="reserve"[^>]*>', drawn)[0]
    assert f'x1="{round((read_clock("1:10:00") - seconds[0]) * across, 2)}%"' in drawn
    told = words(shown(site, run, "desk", "supplies"))
    assert clock(int(until_s)) in told
    assert f"reserve 12 at {clock(int(until_s))}" in drawn


def test_after_the_reserve_was_passed_the_line_ends_at_it(site: Site, run: int) -> None:
    read_gauge(site, run, {"0:30:00": 40.0, "0:50:00": 20.0})
    at(site, "1:30:00")
    begins_x, begins_y, ends_x, ends_y = line_of(drawn_of(site, run), "fitted")
    assert (begins_x, begins_y, ends_y) == pytest.approx((0, 10, 62), abs=0.01)
    assert ends_x == pytest.approx(28 / 60 * 100, abs=0.01)


def test_a_supply_that_lasts_long_does_not_crowd_its_readings(site: Site, run: int) -> None:
    read_gauge(site, run, {"0:00:00": 100.0, "1:00:00": 99.9})
    spots = spots_of(drawn_of(site, run))
    assert spots[1][0] == pytest.approx(100 / 7, abs=0.01)


def test_the_line_is_drawn_through_the_readings_that_it_is_fitted_to(site: Site, run: int) -> None:
    readings = {f"0:{5 * each:02d}:00": 95.0 - 2 * each for each in range(MOST_READINGS + 2)}
    read_gauge(site, run, readings)
    drawn = drawn_of(site, run)
    spots = spots_of(drawn)
    assert len(spots) == MOST_READINGS + 2
    assert line_of(drawn, "fitted")[:2] == pytest.approx(spots[2], abs=0.01)


def test_a_past_moment_shows_the_gauges_as_they_stood_and_takes_nothing(site: Site, run: int) -> None:
    read_gauge(site, run, FALLING)
    past = shown(site, run, "desk?at=0:45:00", "supplies")
    assert "90 % at 00:30:00" in words(past)
    assert "<form" not in past
    assert "limit 04:00:00" in words(site.page(f"/runs/{run}/desk?at=0:45:00"))
