"""Timelines as numbers for SVG: boxes in per cent of one time axis. It draws nothing; templates do."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from app.core.passes import Timeline
from app.core.procedure import TaskId
from app.core.situation import Prepared, Situation, StepState


class Box(NamedTuple):
    """One bar: left and width in per cent of the axis, what it is called, and its class for colour and shape.

    A Desk has one for each step, and a tuple is made in a quarter of the time.
    """

    x: float
    width: float
    label: str
    look: str


@dataclass(frozen=True, slots=True)
class Tick:
    x: float
    label: str


@dataclass(frozen=True, slots=True)
class Axis:
    """Elapsed seconds 0 to `end_s` laid on 0 to 100 per cent."""

    end_s: int

    def x(self, at_s: float) -> float:
        return round(min(100.0, max(0.0, at_s * 100 / self.end_s)), 3)

    def box(self, start_s: int, finish_s: int, label: str, look: str) -> Box:
        left = self.x(start_s)
        return Box(left, round(self.x(finish_s) - left, 3), label, look)

    def ticks(self, most: int = 9) -> tuple[Tick, ...]:
        """Full hours, or the coarser or finer round steps that give at most `most` marks."""
        steps = [300, 600, 900, 1800, 3600, 7200, 14400, 21600, 43200, 86400, 172800, 432000]
        step = next((each for each in steps if self.end_s / each <= most), steps[-1])
        return tuple(Tick(self.x(at), f"{at // 3600}:{at // 60 % 60:02d}") for at in range(0, self.end_s + 1, step))


def axis(*ends_s: int | None) -> Axis:
    """An axis that holds every given time, with a little air."""
    longest = max([each for each in ends_s if each is not None] + [60])
    return Axis(int(longest * 1.02) + 1)


@dataclass(frozen=True, slots=True)
class TimeLine:
    """The run's one axis, labelled: hours and limit."""

    ticks: tuple[Tick, ...]
    limit: Tick | None


def time_line(situation: Situation, scale: Axis) -> TimeLine:
    limit = situation.limit
    return TimeLine(
        ticks=scale.ticks(),
        limit=None if limit is None else Tick(scale.x(limit.at_s), limit.words),
    )


@dataclass(frozen=True, slots=True)
class Strip:
    """One person's plan above, as run and projected below, on the run's one axis."""

    plan: tuple[Box, ...]
    run: tuple[Box, ...]
    ticks: tuple[Tick, ...]
    now_x: float
    limit_x: float | None
    words: str


def strip(situation: Situation, seat: int, scale: Axis) -> Strip:
    """The strip of the person at this place in the crew."""
    network = situation.network
    own = network.lists[seat]
    run = tuple(
        scale.box(*situation.projection.times(step), network.steps[step].do, _look(situation, step))
        for step in own
        if situation.states[step] is not None and step not in situation.facts.removed
    )
    person = network.crew[seat]
    limit = situation.limit
    done = sum(1 for step in own if step in situation.facts.done)
    return Strip(
        plan=plan_boxes(situation.prepared, own, situation.plan, scale),
        run=run,
        ticks=scale.ticks(),
        now_x=scale.x(situation.at_s),
        limit_x=None if limit is None else scale.x(limit.at_s),
        words=f"{person}: plan above, as run and projected below; {done} of {len(own)} steps done",
    )


_LOOKS = {
    StepState.DONE: "done",
    StepState.UNDER_WAY: "now",
    StepState.READY: "open",
    StepState.WAITING: "open",
}


def _look(situation: Situation, step: int) -> str:
    state = situation.states[step]
    if state is StepState.UNDER_WAY:
        if situation.network.steps[step].go:
            return "hold"
        start_s, _ = situation.projection.times(step)
        if situation.at_s > start_s + situation.network.takes_s[step]:
            return "over"
    return "open" if state is None else _LOOKS[state]


def plan_boxes(prepared: Prepared, steps: Iterable[int], timeline: Timeline, scale: Axis) -> tuple[Box, ...]:
    """One outline per task of these steps: from its first start to its last finish in the plan."""
    spans: dict[TaskId, list[tuple[int, int]]] = {}
    for step in steps:
        if prepared.network.nominal[step]:
            spans.setdefault(prepared.network.steps[step].task, []).append(timeline.times(step))
    titles = {task.id: task.title for task in prepared.procedure.tasks}
    return tuple(
        scale.box(min(start for start, _ in times), max(finish for _, finish in times), titles[task], "plan")
        for task, times in spans.items()
    )


@dataclass(frozen=True, slots=True)
class Row:
    """One person's steps in the plan, or the steps of nobody."""

    who: str
    does: str
    boxes: tuple[Box, ...]


@dataclass(frozen=True, slots=True)
class PlanChart:
    """The nominal timeline. `windows` are (name, boxes); lines are marks with a label."""

    rows: tuple[Row, ...]
    windows: tuple[tuple[str, tuple[Box, ...]], ...]
    ticks: tuple[Tick, ...]
    finish: Tick
    limit: Tick | None


def plan_chart(prepared: Prepared) -> PlanChart:
    """Per person the steps of the nominal timeline, the critical ones and the holds told apart."""
    procedure = prepared.procedure
    limit_s = procedure.limits.finish_s
    scale = axis(prepared.plan.end_s, limit_s)
    does = {person.designator: person.does for person in procedure.crew}
    rows = [
        Row(person, does[person], _step_boxes(prepared, prepared.network.lists[seat], scale))
        for seat, person in enumerate(prepared.network.crew)
    ]
    nobody = [number for number in prepared.network.order if not prepared.network.people[number]]
    if nobody:
        rows.append(Row("Nobody", "pure waits", _step_boxes(prepared, nobody, scale)))
    windows = tuple(
        (
            window.name,
            tuple(
                scale.box(span.opens_s, min(span.closes_s, scale.end_s), window.name, "window")
                for span in window.spans
                if span.opens_s < scale.end_s
            ),
        )
        for window in procedure.windows
    )
    return PlanChart(
        rows=tuple(rows),
        windows=windows,
        ticks=scale.ticks(),
        finish=Tick(scale.x(prepared.plan.end_s), "plan finish"),
        limit=None if limit_s is None else Tick(scale.x(limit_s), "limit"),
    )


def _step_boxes(prepared: Prepared, steps: Sequence[int], scale: Axis) -> tuple[Box, ...]:
    boxes = []
    for number in steps:
        step = prepared.network.steps[number]
        look = "critical" if prepared.late.float_s(prepared.plan, number) == 0 else "slack"
        boxes.append(scale.box(*prepared.plan.times(number), step.do, f"{look} stop" if step.go else look))
    return tuple(boxes)
