"""The team's lead over elapsed time of several runs laid over each other, as numbers for SVG. It draws nothing."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.core.lead_so_far import LeadPoint, changes
from app.core.times import clock, lead_words
from app.web.charts import axis
from app.web.labels import LINE_PX, share, share_of, spread
from app.web.views.debrief_tables import Shift, shift
from app.web.views.lead_chart import DASHES, FOOT_PX, HEAD_PX
from app.web.views.lead_plane import GridLine, Hour, Plane, grid, heights, hours


@dataclass(frozen=True, slots=True)
class Course:
    """One run: its name, what is known of it, and its lead wherever it turns. `here`: the one that is looked at."""

    run: int
    name: str
    revision: str
    state: str
    finish_s: int
    plan_finish_s: int
    points: tuple[LeadPoint, ...]
    here: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """`text_x` per cent; `dx` pixels. `look` tells the run that is looked at from the others by its width."""

    run: int
    points: str
    dash: str
    look: str
    end_x: float
    end_y: float
    name: str
    text_y: float
    anchor: str
    dx: int


@dataclass(frozen=True, slots=True)
class Row:
    """The same numbers in words; `most` and `least`: the best and the worst lead, and when."""

    run: int
    name: str
    dash: str
    look: str
    revision: str
    state: str
    finish: str
    shift: Shift | None
    end: str
    most: str
    least: str


@dataclass(frozen=True, slots=True)
class Overlay:
    words: str
    height: int
    top: int
    bottom: int
    grid: tuple[GridLine, ...]
    hours: tuple[Hour, ...]
    lines: tuple[Line, ...]
    rows: tuple[Row, ...]


def overlay(courses: Sequence[Course]) -> Overlay:
    """All of them on one plane; the one that is looked at is drawn last, so that it lies on top."""
    across = axis(*(course.points[-1].at_s for course in courses))
    low_s, high_s, step_s = heights([point.team_s for course in courses for point in course.points])
    plane = Plane(across, low_s, high_s, step_s, HEAD_PX + LINE_PX)
    ends = [plane.dot(course.points[-1].at_s, course.points[-1].team_s) for course in courses]
    heights_px = spread([end.y + 4 for end in ends], plane.top + 8, plane.bottom - 4)
    lines = [
        _line(plane, course, place, end.x, end.y, text_y)
        for place, (course, end, text_y) in enumerate(zip(courses, ends, heights_px, strict=True))
    ]
    return Overlay(
        words="; ".join(f"{course.name}, {lead_words(course.points[-1].team_s)} at its end" for course in courses),
        height=plane.bottom + FOOT_PX,
        top=plane.top,
        bottom=plane.bottom,
        grid=grid(plane),
        hours=hours(across),
        lines=tuple(sorted(lines, key=lambda line: line.look == "run here")),
        rows=tuple(_row(course, place) for place, course in enumerate(courses)),
    )


def _look(course: Course) -> str:
    return "run here" if course.here else "run"


def _line(plane: Plane, course: Course, place: int, x: float, y: float, text_y: float) -> Line:
    turns = changes([LeadPoint(point.at_s, point.team_s, ()) for point in course.points])
    left = x + share(course.name) + share_of(10) > 100
    return Line(
        run=course.run,
        points=plane.points((point.at_s, point.team_s) for point in turns),
        dash=DASHES[place % len(DASHES)],
        look=_look(course),
        end_x=x,
        end_y=y,
        name=course.name,
        text_y=text_y,
        anchor="end" if left else "start",
        dx=-8 if left else 8,
    )


def _row(course: Course, place: int) -> Row:
    most = max(course.points, key=lambda point: point.team_s)
    least = min(course.points, key=lambda point: point.team_s)
    return Row(
        run=course.run,
        name=course.name,
        dash=DASHES[place % len(DASHES)],
        look=_look(course),
        revision=course.revision[:7],
        state=course.state,
        finish=clock(course.finish_s),
        shift=shift(course.finish_s - course.plan_finish_s),
        end=lead_words(course.points[-1].team_s),
        most=f"{lead_words(most.team_s)}, {clock(most.at_s)}",
        least=f"{lead_words(least.team_s)}, {clock(least.at_s)}",
    )
