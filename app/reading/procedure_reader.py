"""A procedure file in YAML to a core `Procedure`, with every fault of the file in one go. It opens no file."""

from collections.abc import Collection
from dataclasses import dataclass

from app.core.checking import check
from app.core.procedure import Fault, Limits, Person, Procedure, Round, Span, Supply, Window
from app.reading.faults import PlacedFault, in_order
from app.reading.shown_lines import with_lines
from app.reading.spots import Notes, Spot
from app.reading.task_reader import read_tasks, text, words
from app.reading.yaml_tree import Listing, Node, Tree, place, read_tree

TOP_KEYS = (
    "procedure",
    "title",
    "about",
    "zero",
    "crew",
    "limits",
    "windows",
    "supplies",
    "rounds",
    "tools",
    "get_ahead",
    "on_plan_within",
    "spread",
    "tasks",
)
MOST_CREW = 64
MOST_OPENINGS = 100
"""Our own bounds, no source: each person costs a pass over every task, each opening one over every step."""

_Fields = dict[str, Spot]


@dataclass(frozen=True, slots=True)
class Reading:
    """What a file says. `procedure` is None if any fault is more than a remark; `faults` are in order of place."""

    procedure: Procedure | None
    faults: tuple[PlacedFault, ...]


def read_procedure(data: bytes | str) -> Reading:
    """The procedure of a YAML file. Never raises on bad input."""
    reading = reading_of(read_tree(data))
    return Reading(reading.procedure, with_lines(reading.faults, data))


def reading_of(tree: Tree, unread: Collection[str] = ()) -> Reading:
    """The procedure of a tree, wherever that comes from. `unread` are parts that the tree lacks (`checking.check`)."""
    if tree.root is None:
        return Reading(None, in_order(list(tree.faults)))
    notes = Notes(unread=set(unread))
    procedure = _procedure(Spot(tree.root, (), notes, tree.root.line, tree.root.column))
    faults = [*tree.faults, *notes.faults]
    if procedure is not None:
        whole = notes.unread if any(not fault.remark for fault in faults) else None
        faults += [_placed(fault, tree.root) for fault in check(procedure, whole) if fault.path not in notes.paths]
    refused = procedure is None or any(not fault.remark for fault in faults)
    return Reading(None if refused else procedure, in_order(faults))


def _placed(fault: Fault, root: Node) -> PlacedFault:
    return PlacedFault(*place(root, fault.path), fault.what, fault.remedy, fault.remark)


def _procedure(spot: Spot) -> Procedure | None:
    fields = spot.fields(TOP_KEYS, ("procedure", "title", "tasks"), "the file")
    if fields is None:
        return None
    if "tasks" not in fields:
        spot.notes.unread.add("tasks")
    return Procedure(
        id=fields["procedure"].name() if "procedure" in fields else "",
        title=text(fields, "title"),
        about=text(fields, "about"),
        zero=text(fields, "zero"),
        crew=_crew(fields.get("crew")),
        limits=_limits(fields.get("limits")),
        windows=_windows(fields.get("windows")),
        supplies=_supplies(fields.get("supplies")),
        rounds=_rounds(fields.get("rounds")),
        tools=_tools(fields),
        least_lead_s=_least_lead(fields.get("get_ahead")),
        on_plan_within_s=_or(fields["on_plan_within"].duration(), 60) if "on_plan_within" in fields else 60,
        spread=_spread(fields.get("spread")),
        tasks=read_tasks(fields.get("tasks")),
    )


def _or(value: int | None, default: int) -> int:
    return default if value is None else value


def _crew(spot: Spot | None) -> tuple[Person, ...]:
    if spot is None:
        return ()
    entries = spot.entries("each designator with what they do, for example EV1: {does: Outside}")
    if entries is None or len(entries) > MOST_CREW:
        spot.notes.unread.add("crew")
        if entries:
            spot.fault(f"the crew has {len(entries)} people", f"keep to {MOST_CREW} at most")
        return ()
    return tuple(Person(key.name(), _does(value)) for key, value in entries)


def _does(spot: Spot) -> str:
    fields = None if spot.empty else spot.fields(("does",), (), "a crew member")
    return text(fields, "does") if fields else ""


def _limits(spot: Spot | None) -> Limits:
    fields = spot.fields(("finish", "close_out"), (), "limits") if spot else None
    if not fields:
        return Limits()
    finish = fields["finish"].clock() if "finish" in fields else None
    return Limits(finish, text(fields, "close_out") or None)


def _windows(spot: Spot | None) -> tuple[Window, ...]:
    if spot is None:
        return ()
    told = len(spot.notes.faults)
    entries = spot.entries("each window with its openings, for example daylight: [[0:10, 1:05]]") or ()
    windows = tuple(Window(key.text(), _spans(value)) for key, value in entries)
    if len(spot.notes.faults) > told or spot.path in spot.notes.paths:
        spot.notes.unread.add("windows")
    return windows


def _spans(spot: Spot) -> tuple[Span, ...]:
    items = spot.listing("openings, for example [[0:10, 1:05]]")
    if items is None:
        return ()
    if not items:
        spot.fault("the window has no openings", "write at least one, for example [[0:10, 1:05]]")
    if len(items) > MOST_OPENINGS:
        spot.fault(f"the window has {len(items)} openings", f"keep to {MOST_OPENINGS} at most")
        return ()
    return tuple(span for item in items if (span := _span(item)))


def _span(spot: Spot) -> Span | None:
    ends = spot.items()
    if not isinstance(spot.node, Listing) or len(ends) != 2:
        remedy = "write when it opens and when it closes, for example [0:10, 1:05]"
        spot.fault("an opening needs two elapsed times", remedy)
        return None
    opens, closes = ends[0].clock(), ends[1].clock()
    return None if opens is None or closes is None else Span(opens, closes)


def _supplies(spot: Spot | None) -> tuple[Supply, ...]:
    items = (spot.listing("supplies") if spot else None) or ()
    return tuple(supply for item in items if (supply := _supply(item)))


def _supply(spot: Spot) -> Supply | None:
    keys = ("supply", "who", "unit", "reserve")
    fields = spot.fields(keys, ("supply", "unit", "reserve"), "a supply")
    if fields is None:
        return None
    reserve = fields["reserve"].number() if "reserve" in fields else None
    name = text(fields, "supply") or _unnamed(spot)
    return Supply(name, words(fields, "who"), text(fields, "unit"), reserve or 0.0)


def _rounds(spot: Spot | None) -> tuple[Round, ...]:
    items = (spot.listing("rounds") if spot else None) or ()
    return tuple(one for item in items if (one := _round(item)))


def _round(spot: Spot) -> Round | None:
    fields = spot.fields(("round", "asks", "who", "every"), ("round", "asks", "every"), "a round")
    if fields is None:
        return None
    every = fields["every"].duration() if "every" in fields else 1
    name = text(fields, "round") or _unnamed(spot)
    # One second stands for a time that could not be read: nought would be told as a second fault.
    return Round(name, text(fields, "asks"), words(fields, "who"), _or(every, 1))


def _unnamed(spot: Spot) -> str:
    """A name that no file can give, so that two nameless items are not told as one name given twice."""
    return f"?{spot.path[-1]}"


def _tools(fields: _Fields) -> tuple[str, ...]:
    spot = fields.get("tools")
    if spot is None:
        return ()
    told = len(spot.notes.faults)
    tools = words(fields, "tools")
    if len(spot.notes.faults) > told or spot.path in spot.notes.paths:
        spot.notes.unread.add("tools")
    return tools


def _least_lead(spot: Spot | None) -> int:
    fields = spot.fields(("least_lead",), (), "get_ahead") if spot else None
    return (fields["least_lead"].duration() or 0) if fields and "least_lead" in fields else 0


def _spread(spot: Spot | None) -> tuple[float, float, float]:
    default = (0.8, 1.0, 1.6)
    items = spot.listing("three factors") if spot else None
    if spot is None or items is None:
        return default
    if len(items) != 3:
        spot.fault(f"spread has {len(items)} factors", "write three, for example [0.8, 1, 1.6]")
        return default
    low, likely, high = (item.number() for item in items)
    return default if low is None or likely is None or high is None else (low, likely, high)
