"""A gauge in the debrief: a reading below the reserve is told as that, also where the line is above it."""

from app.core.debrief_watch import GaugeTold
from app.core.watch import Reading
from app.web.views.debrief_watch import gauge_row


def told(*values: float) -> GaugeTold:
    readings = tuple(Reading(100 * at, at, value) for at, value in enumerate(values, start=1))
    lowest = min(readings, key=lambda each: each.value)
    return GaugeTold("battery", "EV1", "%", 12.0, readings, lowest, -10.0, 2000, 500, "")


def test_a_reading_below_the_reserve_is_told_though_the_line_is_above_it() -> None:
    row = gauge_row(told(80.0, 10.8, 60.0))
    assert row.words.startswith("lowest 10.8 % 00:03:20, BELOW THE RESERVE; by the line through the last readings")
    assert row.bad
    assert [line.endswith("below the reserve") for line in row.lines] == [False, True, False]


def test_at_the_reserve_is_not_below_it() -> None:
    row = gauge_row(told(80.0, 12.0))
    assert "BELOW" not in row.words
    assert not row.bad
