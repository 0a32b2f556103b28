"""Planned and as run on one axis, a lane for each person, as numbers for SVG. It draws nothing."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.core.as_run import AsRunStep
from app.core.situation import Situation, StepState
from app.core.times import clock, duration
from app.web.charts import Axis, Box, TimeLine, axis, plan_boxes, time_line


@dataclass(frozen=True, slots=True)
class Lane:
    """One person's plan above, as run below. `words` are for those who do not see it."""

    who: str
    does: str
    plan: tuple[Box, ...]
    run: tuple[Box, ...]
    words: str


@dataclass(frozen=True, slots=True)
class LaneChart:
    """`end_x`, `plan_x`: the run's end, or now, and the plan's finish. `limit_x`: None without a limit."""

    lanes: tuple[Lane, ...]
    line: TimeLine
    end_x: float
    plan_x: float
    limit_x: float | None
    end_words: str


def lane_chart(situation: Situation, steps: Sequence[AsRunStep]) -> LaneChart:
    """All lanes on the one axis; the steps of nobody have a lane of their own where there are any."""
    limit = situation.limit
    limit_s = None if limit is None else limit.at_s
    scale = axis(situation.plan.end_s, situation.at_s, limit_s if _near(limit_s, situation) else None)
    does = {person.designator: person.does for person in situation.procedure.crew}
    lanes = [
        _lane(situation, person, does[person], [s for s in steps if person in s.who], scale)
        for person in situation.network.crew
    ]
    nobody = [step for step in steps if not step.who]
    if nobody:
        lanes.append(_lane(situation, "Nobody", "pure waits", nobody, scale))
    ended = situation.state.ended_s is not None
    return LaneChart(
        lanes=tuple(lanes),
        line=time_line(situation, scale),
        end_x=scale.x(situation.at_s),
        plan_x=scale.x(situation.plan.end_s),
        limit_x=None if limit_s is None or limit_s > scale.end_s else scale.x(limit_s),
        end_words=f"{'ended' if ended else 'so far'} {clock(situation.at_s)}",
    )


def _near(limit_s: int | None, situation: Situation) -> bool:
    """A limit that lies far behind everything would press the lanes together."""
    return limit_s is not None and limit_s <= 2 * max(situation.plan.end_s, situation.at_s)


def _lane(situation: Situation, who: str, does: str, steps: Sequence[AsRunStep], scale: Axis) -> Lane:
    numbers = [situation.network.index[step.id] for step in steps]
    done = sum(1 for step in steps if step.state is StepState.DONE)
    of = sum(1 for step in steps if step.state not in (None, StepState.PUT_OFF, StepState.NOT_NEEDED))
    return Lane(
        who=who,
        does=does,
        plan=plan_boxes(situation.prepared, numbers, situation.plan, scale),
        run=tuple(_box(situation, step, step.start_s, scale) for step in steps if step.start_s is not None),
        words=f"{who}: plan above, as run below; {done} of {of} steps done",
    )


def _box(situation: Situation, step: AsRunStep, start_s: int, scale: Axis) -> Box:
    end_s = situation.at_s if step.finish_s is None else step.finish_s
    took_s = max(0, end_s - start_s)
    said = "so far " if step.finish_s is None else ""
    label = f"{step.do}: {said}{duration(took_s)}, likely {duration(step.takes_s)}"
    return scale.box(start_s, max(start_s, end_s), label, _look(situation, step, took_s))


def _look(situation: Situation, step: AsRunStep, took_s: int) -> str:
    if situation.network.steps[situation.network.index[step.id]].go:
        return "hold"
    return "over" if took_s > step.takes_s + situation.procedure.on_plan_within_s else "done"
