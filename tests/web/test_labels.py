"""Words on a chart lie beside each other, its grid is round, and its lines stand out from the ground."""

import re
from collections.abc import Sequence
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.settings import HOME
from app.web.labels import LINE_PX, cut, hang, share, spread
from app.web.views.lead_plane import heights


@given(
    lines=st.lists(
        st.tuples(
            st.floats(0, 100), st.sampled_from(["now 00:05", "plan finish 06:30", "turn back by 106:22", "limit 07:00"])
        ),
        max_size=4,
    )
)
def test_the_words_of_upright_lines_never_lie_on_each_other(lines: list[tuple[float, str]]) -> None:
    spans = []
    for (x, words), hung in zip(lines, hang(lines), strict=True):
        left = x if hung.anchor == "start" else x - share(words)
        assert -0.1 <= left <= 100.1 - share(words)
        spans.append((hung.row, left, left + share(words)))
    for one, other in combinations(spans, 2):
        assert one[0] != other[0] or one[2] <= other[1] or other[2] <= one[1]


@given(now=st.floats(0, 55), gaps=st.tuples(st.floats(0.5, 8), st.floats(0.5, 8)))
def test_no_line_crosses_the_words_of_another_when_the_bounds_stand_at_the_end(
    now: float, gaps: tuple[float, float]
) -> None:
    lines = [(98.0, "limit 07:00"), (98 - gaps[0], "turn back by 06:22"), (98 - sum(gaps), "plan finish 06:30")]
    lines.append((now, "now 02:14"))
    hung = hang(lines)
    for (x, words), place in zip(lines, hung, strict=True):
        left, right = (x, x + share(words)) if place.anchor == "start" else (x - share(words), x)
        crossing = [other for (at, _), other in zip(lines, hung, strict=True) if left < at < right]
        assert all(other.row > place.row for other in crossing)


@given(wanted=st.lists(st.floats(0, 230), max_size=7))
def test_names_keep_their_order_a_line_apart_and_within_the_plot(wanted: list[float]) -> None:
    placed = spread(wanted, 12, 228)
    assert all(11.9 <= each <= 228.1 for each in placed)
    for (want, here), (wish, there) in combinations(zip(wanted, placed, strict=True), 2):
        assert abs(here - there) >= LINE_PX - 0.11
        assert want == wish or (want < wish) == (here < there)


def test_names_that_have_room_stand_where_they_belong() -> None:
    assert spread([200.0, 40.0, 90.0], 12, 228) == (200.0, 40.0, 90.0)
    assert spread([100.0, 100.0, 100.0], 12, 228) == (85.0, 100.0, 115.0)


def test_a_name_that_has_no_room_is_cut_and_says_so() -> None:
    assert cut("EV1", share("EV1")) == "EV1"
    short = cut("GROUND-SUPPORT-2", 20)
    assert short.endswith("…")
    assert "GROUND-SUPPORT-2".startswith(short[:-1])
    assert share(short) <= 20 < share("GROUND-SUPPORT-2")


@given(leads_s=st.lists(st.integers(-400 * 3600, 400 * 3600), min_size=1, max_size=5))
def test_the_grid_has_four_to_eight_round_lines_and_holds_every_lead(leads_s: list[int]) -> None:
    low_s, high_s, step_s = heights(leads_s)
    assert 4 <= (high_s - low_s) // step_s + 1 <= 8
    assert low_s <= min(leads_s)
    assert high_s >= max(leads_s)
    assert step_s % 60 == low_s % step_s == high_s % step_s == 0


def _tokens(theme: str) -> dict[str, tuple[float, ...]]:
    style = (HOME / "static" / "leadline.css").read_text()
    block = style[style.index(theme) :].split("}", 1)[0]
    found = {}
    for name, said in re.findall(r"--([a-z-]+): (#[0-9a-f]{3,6})", block):
        full = said[1:] if len(said) == 7 else "".join(2 * each for each in said[1:])
        found[name] = tuple(int(full[place : place + 2], 16) / 255 for place in (0, 2, 4))
    return found


def _contrast(one: Sequence[float], other: Sequence[float]) -> float:
    """WCAG 2.2, relative luminance and contrast ratio."""

    def luminance(colour: Sequence[float]) -> float:
        linear = [each / 12.92 if each <= 0.04045 else ((each + 0.055) / 1.055) ** 2.4 for each in colour]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("theme", [":root {", '[data-theme="light"] {'])
def test_each_line_that_means_something_stands_out_three_to_one(theme: str) -> None:
    """WCAG 2.2, 1.4.11."""
    tokens = _tokens(theme)
    style = (HOME / "static" / "leadline.css").read_text()
    block = style[style.index("/* Lead chart.") : style.index("/* My list: large. */")]
    used = set(re.findall(r"stroke: var\(--([a-z]+)\)", block)) - {"rule", "panel", "tone"}
    assert {"quiet", "edge", "hold", "limit", "ink", "behind"} <= used
    for name in used | {"ahead", "even"}:
        assert _contrast(tokens[name], tokens["panel"]) >= 3, name
    share_of_it = int(re.findall(r"\.window \{ fill: color-mix\(in srgb, var\(--ahead\) (\d+)%", block)[0]) / 100
    band = [a * share_of_it + b * (1 - share_of_it) for a, b in zip(tokens["ahead"], tokens["panel"], strict=True)]
    assert _contrast(band, tokens["panel"]) >= 3


@pytest.mark.parametrize("theme", [":root {", '[data-theme="light"] {'])
def test_the_edge_of_what_is_pressed_or_filled_in_stands_out_three_to_one(theme: str) -> None:
    """WCAG 2.2, 1.4.11; and 1.4.3 for each ink on each ground."""
    tokens = _tokens(theme)
    for ground in ("ground", "panel", "raised"):
        for line in ("edge", "ahead", "limit"):
            assert _contrast(tokens[line], tokens[ground]) >= 3, (line, ground)
        for ink in ("ink", "quiet", "ahead", "behind", "even", "hold", "limit", "go"):
            assert _contrast(tokens[ink], tokens[ground]) >= 4.5, (ink, ground)
