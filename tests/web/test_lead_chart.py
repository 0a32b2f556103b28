"""The lead chart, read as SVG: what it draws is what its tables say, and its words can be read."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations, pairwise
from xml.etree import ElementTree as ET

import pytest

from app.core.events import StepMarked
from app.core.fold import fold
from app.core.forecast import Forecast, Spread
from app.core.lead_so_far import lead_point, moments, step_for
from app.core.situation import Prepared, Situation
from app.core.times import read_clock, read_duration
from app.settings import HOME
from app.web.labels import LEAST_PX, width_px
from app.web.render import Renderer
from app.web.views.lead_chart import DASHES, LeadChart, lead_chart
from tests.core.building import procedure, task
from tests.core.running import logged

EV = ("EV1", "EV2", "ARM")
NINE = (*EV, "GROUND", "MEDIC", "RADIO", "PILOT", "SPARE", "DECK")
Marks = dict[str, int]
SLOW: Marks = {"t0/1": 1_000, "t1/1": 700, "t2/1": 950, "t0/2": 1_900, "t1/2": 1_900}


@dataclass(frozen=True, slots=True)
class Made:
    """What a chart is made of. Each of `crew` has six steps of 15 minutes, so the plan ends at 1:30."""

    at_s: int = 2_500
    crew: tuple[str, ...] = EV
    marks: tuple[tuple[str, int], ...] = tuple(SLOW.items())
    limit_s: int | None = 9_000
    turn_back_s: int | None = 8_000
    ahead_s: tuple[int, int, int, int, int] | None = (-900, -300, 150, 700, 1_500)
    windows: tuple[tuple[str, tuple[tuple[int, int], ...]], ...] = ()
    takes_s: int = 900

    def chart(self) -> LeadChart:
        names = self.crew or ("",)
        tasks = [task(f"t{place}", [self.takes_s] * 6, who=who) for place, who in enumerate(names)]
        prepared = Prepared(procedure(*tasks, finish_s=self.limit_s, windows=dict(self.windows), on_plan_within_s=60))
        log = [logged(seq, at_s, StepMarked(step)) for seq, (step, at_s) in enumerate(self.marks, 1)]

        def state(at_s: int) -> Situation:
            return Situation(prepared, fold(log, until_s=at_s), at_s)

        now = state(self.at_s)
        points = [
            lead_point(prepared, fold(log, until_s=at_s), at_s) for at_s in moments(self.at_s, step_for(self.at_s))
        ]
        return lead_chart(now, points, self.forecast(now.projection.end_s), self.turn_back_s, self.limit_s)

    def forecast(self, finish_s: int) -> Forecast | None:
        if self.ahead_s is None:
            return None
        tenth, quarter, half, three, nine = (finish_s + each for each in self.ahead_s)
        return Forecast(self.at_s, 10_000, Spread(tenth, quarter, half, three, nine, 90), {}, ())


USUAL = Made()
DONE = tuple((f"t{place}/{number}", 880 * number + 20 * place) for number in range(1, 7) for place in range(3))
CASES = {
    "in the middle": USUAL,
    "just begun": Made(at_s=0, marks=()),
    "on plan all the time": Made(at_s=800, marks=()),
    "two hours behind": Made(at_s=8_100, marks=()),
    "hundreds of hours": Made(at_s=700_000, marks=(("t0/1", 40_000),), takes_s=36_000, limit_s=900_000),
    "nobody": Made(crew=(), marks=(("t0/1", 700),)),
    "nine people": Made(crew=NINE),
    "long names": Made(crew=("GROUND-SUPPORT-2", "MMMMWWWWMMMMWWWW", "EV1")),
    "all lines together": Made(at_s=5_390, limit_s=5_402, turn_back_s=5_395, ahead_s=(-4, -2, 0, 2, 4)),
    "all lines at one place": Made(at_s=5_400, limit_s=5_400, turn_back_s=5_400),
    "no limit": Made(limit_s=None, turn_back_s=None),
    "all done": Made(at_s=6_000, marks=DONE, ahead_s=None),
    "past the limit": Made(at_s=10_500, marks=DONE[:-1]),
    "turn-back before zero": Made(turn_back_s=-600),
    "twenty openings": Made(
        windows=(
            ("daylight", tuple((600 * each, 600 * each + 300) for each in range(20))),
            ("relay pass over the far side of the outpost", ((1_000, 2_000), (8_000, 20_000), (30_000, 31_000))),
        )
    ),
}


@cache
def renderer() -> Renderer:
    return Renderer(HOME / "templates", "test")


class Drawn:
    """A chart as a reader finds it: the SVG by element, its scales from its own labels, the tables' rows as words."""

    def __init__(self, made: Made) -> None:
        self.html = str(renderer().part("lead-chart", "_lead_chart.html", chart=made.chart()).html)
        found = re.search(r'<svg class="drawn".*?</svg>\n  <ul', self.html, re.DOTALL)
        assert found
        self.svg = ET.fromstring(found[0].removesuffix("<ul"))
        self.times, self.leads = (
            [re.findall(r"<t[hd][^>]*>([^<]*)</t", row) for row in re.findall(r"<tr>(.*?)</tr>", table)]
            for table in re.findall(r"<table>(.*?)</table>", self.html, re.DOTALL)
        )
        hour = self.all("text", "hour")[-1]
        self.percent_per_s = _number(hour, "x") / read_clock(_text(hour))
        heights_of = {_side(each): _number(each, "y") for each in self.all("text", "height")}
        self.zero_y = heights_of["plan"]
        low, *_, top = heights_of
        self.px_per_s = (heights_of[low] - heights_of[top]) / (_lead(top) - _lead(low))

    def all(self, tag: str, look: str) -> list[ET.Element]:
        return [each for each in self.svg.iter(tag) if look in each.get("class", "").split()]

    def pairs(self, shape: ET.Element) -> list[tuple[float, float]]:
        """The (elapsed, lead) pairs of a line or an area in the scaled part."""
        points = [each.split(",") for each in shape.get("points", "").split()]
        return [(float(x) / 10 / self.percent_per_s, (self.zero_y - float(y)) / self.px_per_s) for x, y in points]

    def dots(self, look: str) -> list[tuple[float, float]]:
        found = self.all("circle", look)
        places = [(_number(dot, "cx"), _number(dot, "cy")) for dot in found]
        return [(x / self.percent_per_s, (self.zero_y - y) / self.px_per_s) for x, y in places]

    def is_at(self, drawn: tuple[float, float], said: tuple[float, float]) -> bool:
        """As near as the rounding of coordinates lets it be: a thousandth of a per cent, a hundredth of a pixel."""
        off_s, off_px = abs(drawn[0] - said[0]), abs(drawn[1] - said[1]) * self.px_per_s
        return off_s * self.percent_per_s <= 0.0015 and off_px <= 0.02

    def time(self, what: str) -> tuple[int, int]:
        row = next(row for row in self.times if row[0] == what)
        return read_clock(row[1]), _lead(row[2]) if row[2] else 0


def _number(element: ET.Element, name: str) -> float:
    return float(element.attrib[name].removesuffix("%"))


def _text(element: ET.Element) -> str:
    return " ".join(element.itertext())


def _side(element: ET.Element) -> str:
    return _text(element).strip()


def _lead(words: str) -> int:
    """Seconds of a lead in words; ahead is above 0."""
    if words in {"on plan", "plan"}:
        return 0
    length, side = words.rsplit(" ", 1)
    return read_duration(length) * (1 if side == "ahead" else -1)


@pytest.fixture(params=CASES.values(), ids=list(CASES))
def drawn(request: pytest.FixtureRequest) -> Drawn:
    assert isinstance(request.param, Made)
    return Drawn(request.param)


# The picture and the tables say the same


def test_each_lead_that_is_drawn_is_in_the_table_and_each_in_the_table_is_drawn(drawn: Drawn) -> None:
    head, *rows = drawn.leads
    lines = {each.get("data-who"): each for each in drawn.svg.iter("polyline") if each.get("data-who")}
    assert [*lines] == [*head[2:], "team"]
    for column, who in enumerate(head[1:], 1):
        said = [(read_clock(row[0]), _lead(row[column])) for row in rows]
        course = drawn.pairs(lines["team" if who == "Team" else who])
        assert all(any(drawn.is_at(point, row) for row in said) for point in course)
        for row in said:
            assert any(drawn.is_at(point, row) for point in [*course, (row[0], _along(course, row[0]))])


def _along(course: Sequence[tuple[float, float]], at_s: float) -> float:
    """Where a line is at a moment; at its first or last point just outside of it."""
    for (left, here), (right, there) in pairwise(course):
        if left <= at_s <= right:
            return here + (there - here) * (at_s - left) / (right - left)
    return min(course, key=lambda point: abs(point[0] - at_s))[1]


def test_each_upright_line_stands_at_its_time_in_the_table_and_says_which(drawn: Drawn) -> None:
    lines, words = drawn.all("line", "mark"), drawn.all("text", "mark")
    assert len(lines) == len(words) >= 2
    said = []
    for line, label in zip(lines, words, strict=True):
        what, clock = _text(label).rsplit(" ", 1)
        at_s = drawn.time(what)[0]
        assert drawn.is_at((_number(line, "x1") / drawn.percent_per_s, 0), (at_s, 0))
        assert (line.get("x1"), line.get("class")) == (line.get("x2"), label.get("class"))
        assert at_s // 60 * 60 == read_clock(clock)
        said.append(what)
    bounds = {"now", "plan finish", "turn back by", "limit"}
    assert set(said) == {what for what, clock, _ in drawn.times if what in bounds and not clock.startswith("−")}


def test_the_projection_and_the_fan_end_at_the_finishes_in_the_table(drawn: Drawn) -> None:
    fans = drawn.all("polygon", "fan")
    now = drawn.time("now")
    if any(row[0] == "finished" for row in drawn.times):
        assert not drawn.all("polyline", "projection") + fans + drawn.all("circle", "half")
        return
    (projection,) = drawn.all("polyline", "projection")
    wanted = {
        "projection": (drawn.pairs(projection), ["now", "projected finish"]),
        "wide": (drawn.pairs(fans[0]), ["now", "one in ten by", "nine in ten by"]),
        "narrow": (drawn.pairs(fans[1]), ["now", "a quarter by", "three quarters by"]),
        "half": (drawn.dots("half"), ["half by"]),
        "finish": (drawn.dots("finish"), ["projected finish"]),
    }
    for points, times in wanted.values():
        assert len(points) == len(times)
        assert all(drawn.is_at(point, drawn.time(what)) for point, what in zip(points, times, strict=True))
    assert drawn.is_at(drawn.pairs(fans[0])[0], now)


def test_each_opening_that_is_drawn_is_in_the_table(drawn: Drawn) -> None:
    end_s = 100 / drawn.percent_per_s
    rows = [read_clock(row[1]) for row in drawn.times if row[0].endswith((" opens", " closes"))]
    said = [(opens, min(closes, end_s)) for opens, closes in zip(rows[::2], rows[1::2], strict=True)]
    boxes = drawn.all("rect", "window")
    assert len(boxes) == sum(opens < end_s - 1 for opens, _ in said)
    for box, (opens, closes) in zip(boxes, [each for each in said if each[0] < end_s - 1], strict=True):
        left, wide = _number(box, "x"), _number(box, "width")
        assert drawn.is_at((left / drawn.percent_per_s, 0), (opens, 0))
        assert abs((left + wide) / drawn.percent_per_s - closes) <= 0.003 / drawn.percent_per_s + 1


def test_a_screen_reader_hears_the_key_numbers_in_one_sentence() -> None:
    made = Drawn(replace(USUAL, at_s=2_000, marks=()))
    finish = made.time("projected finish")[0]
    assert finish == 2_000 + 5 * 900
    assert made.svg.get("role") == "img"
    assert made.svg.get("aria-label") == (
        "Team 18m 20s behind now, 00:33:20; projected finish 01:48:20; half of forecasts by 01:50:50; "
        "nine in ten by 02:13:20; plan finish 01:30:00; turn back by 02:13:20; limit 02:30:00."
    )


def test_the_present_is_the_situation_itself_whatever_was_sampled() -> None:
    """ARM's second step is 650 s over, and four of 15 minutes follow: 1:41:40 in place of 1:30."""
    made = Drawn(USUAL)
    assert made.leads[-1][0] == made.times[1][1] == "00:41:40"
    assert made.leads[-1][1] == made.times[1][2] == "11m 40s behind"


# Words can be read


def _boxes(drawn: Drawn) -> Iterator[tuple[str, float, float, float, float]]:
    """(words, left, right, top, bottom) in pixels of each text at the narrowest: at 12 px, the line 13 px high."""
    for parent in drawn.svg.iter():
        for text in parent.findall("text"):
            shift = _number(parent, "x") * LEAST_PX / 100 if parent.get("overflow") else 0.0
            x = text.attrib["x"]
            at = _number(text, "x") * (LEAST_PX / 100 if x.endswith("%") else 1) + shift + float(text.get("dx", 0))
            wide = max(map(width_px, text.itertext()))
            left = at - {"start": 0, "middle": wide / 2, "end": wide}[text.get("text-anchor", "start")]
            base = _number(text, "y") + float(text.get("dy", 0))
            yield _side(text), left, left + wide, base - 10, base + 2


def test_no_words_lie_on_others_or_leave_the_picture_on_the_narrowest_screen(drawn: Drawn) -> None:
    boxes = list(_boxes(drawn))
    assert len(boxes) > 8
    for one, other in combinations(boxes, 2):
        apart = one[2] <= other[1] + 0.1 or other[2] <= one[1] + 0.1 or one[4] <= other[3] or other[4] <= one[3]
        assert apart, (one, other)
    height = _number(drawn.svg, "height")
    for words, left, right, top, bottom in boxes:
        assert left >= -58, words  # 3.2rem beside the plot and the panel's own edge are for the words there.
        assert right <= LEAST_PX + 10, words
        assert top >= 0, words
        assert bottom <= height, words


def test_people_are_told_apart_by_dashes_and_by_names_or_past_six_by_the_key() -> None:
    few, many = Drawn(USUAL), Drawn(CASES["nine people"])
    for each, crew in ((few, EV), (many, NINE)):
        dashes = [line.get("stroke-dasharray") for line in each.all("polyline", "person")]
        assert len(set(dashes)) == len(crew)
    beside = [[_text(text) for text in each.svg.findall("svg/text")] for each in (few, many)]
    assert sorted(beside[0]) == sorted(["team", *EV])
    assert beside[1] == ["team"]
    key = re.findall(r"</svg>([^<]*)</li>", many.html)
    assert [words.split(",")[0] for words in key[:10]] == ["team", *NINE]
    assert len(set(DASHES)) == 12


def test_words_in_the_chart_are_escaped() -> None:
    made = Drawn(Made(marks=(), crew=("<b>&", "EV2"), windows=(('"><i>', ((0, 600),)),)))
    assert "<b>" not in made.html
    assert "<i>" not in made.html
    assert any(_text(text) == "<b>&" for text in made.svg.findall("svg/text"))
