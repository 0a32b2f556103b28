"""What happened in a run, for the slow reading of the arithmetic. It works nothing out."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from app.core.procedure import Designator, StepId, TaskId

Places = tuple[tuple[Designator, TaskId | None], ...]


@dataclass(frozen=True)
class Happened:
    """What happened in a run: marks, recorded starts, what was taken out, and what was taken in (place, second).

    `off_since` says when a task or step was taken out. `taken` holds added steps too. `turns` are the changes of the
    lists in order, where orders were given: a task that
    was put in, or a person with tasks in a new order. `takes` are revised durations.
    """

    done: Mapping[StepId, int] = field(default_factory=dict)
    started: Mapping[StepId, int] = field(default_factory=dict)
    not_needed: frozenset[StepId] = frozenset()
    put_off: frozenset[TaskId] = frozenset()
    taken: Mapping[TaskId, tuple[Places, int]] = field(default_factory=dict)
    takes: Mapping[StepId, int] = field(default_factory=dict)
    turns: tuple[TaskId | tuple[Designator, tuple[TaskId, ...]], ...] | None = None
    off_since: Mapping[str, int] = field(default_factory=dict)
