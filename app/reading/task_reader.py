"""The tasks of a tree as core values. It says what cannot be read; whether the whole is sound is for `checking`."""

import re
from dataclasses import replace

from app.core.procedure import After, Step, Takes, Task, Value
from app.core.quoting import quoted
from app.reading.spots import ID, Spot
from app.reading.yaml_tree import Listing, Mapping

TASK_KEYS = (
    "task",
    "title",
    "who",
    "after",
    "not_before",
    "within",
    "where",
    "needs",
    "get_ahead",
    "may_put_off",
    "worth",
    "steps",
)
STEP_KEYS = (
    "do",
    "takes",
    "who",
    "after",
    "not_before",
    "within",
    "warning",
    "caution",
    "note",
    "hold",
    "record",
    "count",
    "confirm_by",
)
_STEP_REFERENCE = re.compile(rf"({ID.pattern})/([1-9][0-9]{{0,5}})")
_NOBODY_KNOWS = "?"
_Fields = dict[str, Spot]


def read_tasks(spot: Spot | None) -> tuple[Task, ...]:
    """Every task of the list, in file order; one that cannot be read at all is left out and its absence noted."""
    found = spot.listing("tasks") if spot else ()
    if found is None:
        found = ()
    tasks = tuple(task for item in found if (task := _task(item)))
    if spot and (len(tasks) < len(found) or spot.path in spot.notes.paths):
        spot.notes.unread.add("tasks")
    return tasks


def words(fields: _Fields, key: str) -> tuple[str, ...]:
    """The texts of a list, or the one text; () if the key is not there. A text that cannot be read is left out."""
    spot = fields.get(key)
    return tuple(said for item in spot.items() if (said := item.text())) if spot else ()


def text(fields: _Fields, key: str) -> str:
    spot = fields.get(key)
    return spot.text() if spot else ""


def _task(spot: Spot) -> Task | None:
    fields = spot.fields(TASK_KEYS, ("task", "steps"), "a task")
    if fields is None:
        return None
    task_id = fields["task"].name() if "task" in fields else ""
    if not task_id:
        spot.notes.unread.add("tasks")
        task_id = f"{_NOBODY_KNOWS}{spot.path[-1]}"
    task = Task(
        id=task_id,
        title=text(fields, "title") or task_id,
        steps=(),
        who=words(fields, "who"),
        after=_after(fields.get("after")),
        not_before_s=_not_before(fields),
        within=text(fields, "within") or None,
        where=text(fields, "where"),
        needs=words(fields, "needs"),
        get_ahead=_flag(fields, "get_ahead"),
        may_put_off=_flag(fields, "may_put_off"),
        worth=_worth(fields),
    )
    if "steps" in fields:
        return _with_steps(task, fields["steps"])
    spot.notes.unread.add("tasks")
    return task


def _with_steps(task: Task, spot: Spot) -> Task:
    items = spot.listing("steps")
    if items is None:
        spot.notes.unread.add("tasks")
    return replace(task, steps=tuple(_step(item, task, number) for number, item in enumerate(items or (), 1)))


def _step(spot: Spot, task: Task, number: int) -> Step:
    """A step with what its task carries: `after` and `not_before` if first, `who` and `within` if it has none."""
    fields = spot.fields(STEP_KEYS, ("do", "takes"), "a step") or {}
    first = number == 1
    return Step(
        task=task.id,
        number=number,
        do=text(fields, "do"),
        takes=_takes(fields.get("takes")),
        who=words(fields, "who") if "who" in fields else task.who,
        after=(*(task.after if first else ()), *_after(fields.get("after"))),
        not_before_s=max(task.not_before_s if first else 0, _not_before(fields)),
        within=text(fields, "within") or task.within,
        warning=text(fields, "warning"),
        caution=text(fields, "caution"),
        note=text(fields, "note"),
        go=_go(fields.get("hold")),
        record=_record(fields.get("record")),
        count=fields["count"].integer() if "count" in fields else None,
        confirm_by=text(fields, "confirm_by") or None,
    )


def _flag(fields: _Fields, key: str) -> bool:
    return key in fields and fields[key].flag()


def _not_before(fields: _Fields) -> int:
    return (fields["not_before"].clock() or 0) if "not_before" in fields else 0


def _worth(fields: _Fields) -> int:
    """1-9, 0 if not given. A worth that cannot be read counts as 1, so that it is not told again as missing.

    Beside a `may_put_off` that cannot be read it counts as 0, so that it is not told again as out of place.
    """
    if "may_put_off" in fields and fields["may_put_off"].path in fields["may_put_off"].notes.paths:
        return 0
    return (fields["worth"].integer(1, 9) or 1) if "worth" in fields else 0


def _takes(spot: Spot | None) -> Takes:
    if spot is None:
        return Takes(0)
    if not isinstance(spot.node, Listing):
        return Takes(spot.duration() or 0)
    points = spot.items()
    if len(points) != 3:
        remedy = "write one duration, or three: optimistic, likely, pessimistic"
        spot.fault(f"takes is a list of {len(points)}", remedy)
        return Takes(0)
    low, likely, high = (point.duration() for point in points)
    if low is None or likely is None or high is None:
        return Takes(0)
    return Takes(likely, low, high)


def _after(spot: Spot | None) -> tuple[After, ...]:
    return tuple(link for item in spot.items() if (link := _link(item))) if spot else ()


def _link(spot: Spot) -> After | None:
    if not isinstance(spot.node, Mapping):
        said = spot.leaf("a task, a step or {task: id, wait: 5 min}", "a task id or task/number")
        return _reference(spot, said) if said else None
    fields = spot.fields(("task", "step", "wait"), (), "an item of after")
    if fields is None:
        return None
    wait_s = (fields["wait"].duration() or 0) if "wait" in fields else 0
    if ("task" in fields) == ("step" in fields):
        spot.fault("an item of after needs either task or step", "write {task: id, wait: 5 min} or {step: id/2}")
        return None
    key = "task" if "task" in fields else "step"
    said = fields[key].text()
    link = _reference(fields[key], said, key) if said else None
    return After(link.task, link.step, wait_s) if link else None


def _reference(spot: Spot, said: str, kind: str = "") -> After | None:
    """``id`` or ``id/number``; `kind` is task or step where only that may stand."""
    step = _STEP_REFERENCE.fullmatch(said)
    if step and kind != "task":
        return After(step[1], int(step[2]))
    if "/" not in said and kind != "step":
        return After(said)
    wanted = {"task": "a task id", "step": "a step as task/number", "": "a task id or a step as task/number"}[kind]
    spot.fault(f"{quoted(said)} is not {wanted}", f"write {wanted}, the number counted from 1")
    return None


def _go(spot: Spot | None) -> tuple[str, ...]:
    if spot is None:
        return ()
    fields = spot.fields(("go",), ("go",), "a hold")
    if fields is None or "go" not in fields:
        return ()
    people = words(fields, "go")
    if not people and not fields["go"].items():
        fields["go"].fault("a hold names nobody", "write who must be go, for example {go: [EV1]}")
    return people


def _record(spot: Spot | None) -> tuple[Value, ...]:
    if spot is None:
        return ()
    entries = spot.entries("{name: {unit: kPa, from: 0, to: 3}}") or ()
    return tuple(value for key, each in entries if (value := _value(key, each)))


def _value(key: Spot, spot: Spot) -> Value | None:
    name = key.text()
    fields = spot.fields(("unit", "from", "to"), ("unit",), f"the value {quoted(name)}")
    if fields is None:
        return None
    low = fields["from"].number() if "from" in fields else None
    high = fields["to"].number() if "to" in fields else None
    return Value(name, text(fields, "unit"), low, high)
