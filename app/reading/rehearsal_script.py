"""A rehearsal's script in YAML to a core `Script`, with every fault of the file in one go. It opens no file.

What it names is looked up in the procedure that it is for, so that a slip is told with its place.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches

from app.core.commands import LONGEST_TEXT
from app.core.commands_rehearsal import SetInject
from app.core.procedure import Designator, Procedure, Step
from app.core.quoting import quoted
from app.core.script import Drawn, Script
from app.core.training import LEAST_RATE, MOST_OPEN, MOST_RATE, MOST_SEED
from app.reading.faults import PlacedFault, in_order
from app.reading.spots import Notes, Spot
from app.reading.task_reader import text
from app.reading.yaml_tree import Leaf, read_tree

TOP_KEYS = ("rehearsal", "seed", "players", "speed", "stopped", "injects", "random")
KINDS = {
    "delay": ("step", "by", "say"),
    "failed_step": ("step", "say"),
    "wrong_reading": ("step", "value", "supply", "person", "is", "say"),
    "lost_tool": ("tool", "person", "say"),
    "no_go": ("person", "step", "for", "say"),
}
"""Each trouble with its keys."""
_NEEDED = {"delay": ("step", "by"), "failed_step": ("step",), "lost_tool": ("tool",), "no_go": ("person",)}
LONGEST_S = 24 * 3600

_Fields = dict[str, Spot]


@dataclass(frozen=True, slots=True)
class ScriptReading:
    """`script` is None if the file has a fault that is more than a remark; `faults` are in order of place."""

    script: Script | None
    faults: tuple[PlacedFault, ...]


def read_script(data: bytes | str, procedure: Procedure) -> ScriptReading:
    """The script of a YAML file for a run of `procedure`. Never raises on bad input."""
    tree = read_tree(data)
    if tree.root is None:
        return ScriptReading(None, in_order([_as_script(fault) for fault in tree.faults]))
    notes = Notes()
    spot = Spot(tree.root, (), notes, tree.root.line, tree.root.column)
    script = _Reader(procedure).script(spot)
    faults = [*tree.faults, *notes.faults]
    refused = script is None or any(not fault.remark for fault in faults)
    return ScriptReading(None if refused else script, in_order(faults))


def _as_script(fault: PlacedFault) -> PlacedFault:
    """An empty file is told how a script begins, and not a procedure."""
    is_empty = fault.what == "the file is empty"
    return replace(fault, remedy="begin it with rehearsal: and the procedure's id") if is_empty else fault


class _Reader:
    """Reads a script for one procedure."""

    def __init__(self, procedure: Procedure) -> None:
        self._procedure = procedure
        self._crew = tuple(person.designator for person in procedure.crew)
        self._steps = {step.id: step for step in procedure.steps}

    def script(self, spot: Spot) -> Script | None:
        fields = spot.fields(TOP_KEYS, ("rehearsal",), "the script")
        if fields is None:
            return None
        if "rehearsal" in fields:
            self._is_for(fields["rehearsal"])
        stopped = "stopped" in fields and fields["stopped"].flag()
        if stopped and "speed" in fields:
            fields["speed"].fault("a clock that stands has no speed", "take speed or stopped out")
        injects, drawn = self._injects(fields.get("injects")), _drawn(fields.get("random"))
        if drawn is not None and len(injects) + drawn.count > MOST_OPEN:
            fields["random"].fault(f"the script has more than {MOST_OPEN} troubles", "draw fewer")
        return Script(
            procedure=text(fields, "rehearsal"),
            seed=fields["seed"].integer(0, MOST_SEED) if "seed" in fields else None,
            players=self._players(fields.get("players")),
            speed=_speed(fields.get("speed")),
            stopped=stopped,
            injects=injects,
            random=drawn,
        )

    def _is_for(self, spot: Spot) -> None:
        said, here = spot.text(), self._procedure.id
        if said and said != here:
            spot.fault(
                f"the script is for {quoted(said)}, and this is {here}", "give the procedure file that it is for"
            )

    def _players(self, spot: Spot | None) -> tuple[Designator, ...] | None:
        """None for all of them."""
        if spot is None:
            return ()
        if isinstance(spot.node, Leaf) and spot.node.text.strip() == "all":
            return None
        return tuple(name for item in spot.items() if (name := self._one_of(item, self._crew, "one of the crew")))

    # Trouble

    def _injects(self, spot: Spot | None) -> tuple[SetInject, ...]:
        items = (spot.listing("troubles, for example {delay: {step: a/1, by: 6 min}}") if spot else None) or ()
        if spot is not None and len(items) > MOST_OPEN:
            spot.fault(f"the script has {len(items)} troubles", f"keep to {MOST_OPEN} at most")
            return ()
        return tuple(trouble for item in items if (trouble := self._inject(item)))

    def _inject(self, spot: Spot) -> SetInject | None:
        fields = spot.fields(("at", *KINDS), (), "a trouble")
        if fields is None:
            return None
        kinds = [kind for kind in KINDS if kind in fields]
        if len(kinds) != 1:
            spot.fault(f"a trouble is one of {', '.join(KINDS)}; here are {len(kinds)}", "write one of them an item")
            return None
        kind, at_s = kinds[0], fields["at"].clock() if "at" in fields else None
        own = fields[kind].fields(KINDS[kind], _NEEDED.get(kind, ()), f"a {kind}")
        if own is None or any(key not in own for key in _NEEDED.get(kind, ())):
            return None
        made = self._made(kind, own, fields[kind])
        return None if made is None else replace(made, from_s=at_s, text=_said(own))

    def _made(self, kind: str, fields: _Fields, spot: Spot) -> SetInject | None:
        match kind:
            case "delay":
                step, by_s = self._step(fields), _lasts(fields["by"])
                return SetInject("delay", step=step.id, by_s=by_s) if step and by_s else None
            case "failed_step":
                step = self._step(fields)
                return SetInject("failed step", step=step.id) if step else None
            case "wrong_reading":
                return self._reading(fields, spot)
            case "lost_tool":
                tool = self._one_of(fields["tool"], self._procedure.tools, "a tool")
                return (
                    SetInject("lost tool", tool=tool, person=self._person(fields, self._crew, "one of the crew"))
                    if tool
                    else None
                )
            case _:
                return self._no_go(fields)

    def _reading(self, fields: _Fields, spot: Spot) -> SetInject | None:
        if ("step" in fields) == ("supply" in fields):
            spot.fault(
                "a wrong_reading is of a step's value or of a supply",
                "write {step: a/1, value: turns, is: 13.5} or {supply: battery, is: 41}",
            )
            return None
        shows = fields["is"].number() if "is" in fields else None
        return self._of_step(fields, spot, shows) if "step" in fields else self._of_supply(fields, spot, shows)

    def _of_step(self, fields: _Fields, spot: Spot, shows: float | None) -> SetInject | None:
        """Without `is`, what is recorded is out of tolerance by the width of the band."""
        step = self._step(fields)
        if step is None:
            return None
        if "person" in fields:
            fields["person"].fault("the value of a step is read by who does the step", "take person out")
        if "value" not in fields:
            spot.fault("a wrong_reading of a step lacks the key value", "add value: with the name of what it records")
            return None
        name = self._one_of(fields["value"], tuple(value.name for value in step.record), f"a value of {step.id}")
        return SetInject("wrong reading", step=step.id, name=name, value=shows) if name else None

    def _of_supply(self, fields: _Fields, spot: Spot, shows: float | None) -> SetInject | None:
        supplies = {supply.name: supply for supply in self._procedure.supplies}
        name = self._one_of(fields["supply"], tuple(supplies), "a supply")
        if "value" in fields:
            fields["value"].fault("a supply has no values to name", "take value out, and give what it shows as is:")
        if "is" not in fields:
            spot.fault("a wrong_reading of a supply lacks the key is", "add is: with what the gauge shows")
        if not name or shows is None:
            return None
        person = self._person(fields, supplies[name].who, f"one of those with a gauge of {name}")
        return SetInject("wrong reading", supply=name, person=person, value=shows)

    def _no_go(self, fields: _Fields) -> SetInject | None:
        step = self._step(fields) if "step" in fields else None
        asked, what = (self._crew, "one of the crew") if step is None else (step.go, f"asked at {step.id}")
        person = self._person(fields, asked, what)
        by_s = _lasts(fields["for"]) if "for" in fields else 0
        if person is None or by_s is None or ("step" in fields and step is None):
            return None
        return SetInject("no-go", person=person, step=None if step is None else step.id, by_s=by_s)

    # Names

    def _step(self, fields: _Fields) -> Step | None:
        return self._steps.get(self._one_of(fields["step"], tuple(self._steps), "a step"))

    def _person(self, fields: _Fields, among: Sequence[Designator], what: str) -> Designator | None:
        return self._one_of(fields["person"], among, what) or None if "person" in fields else None

    def _one_of(self, spot: Spot, known: Sequence[str], what: str) -> str:
        """The text, if it is one that the procedure has; else empty, with a fault that it is not `what` there."""
        said = spot.text()
        if not said or said in known:
            return said
        close = get_close_matches(said[:64], [name[:64] for name in known[:2_000]], n=1, cutoff=0.7)
        some = f"known are {', '.join(known[:8])}{' ...' if len(known) > 8 else ''}" if known else "it has none"
        spot.fault(
            f"{quoted(said)} is not {what} in {self._procedure.id}",
            f"did you mean {close[0]}?" if close else some,
        )
        return ""


def _said(fields: _Fields) -> str:
    said = text(fields, "say")
    if len(said) > LONGEST_TEXT:
        fields["say"].fault(f"that is longer than {LONGEST_TEXT:,} characters", "say it shorter")
    return said


def _lasts(spot: Spot) -> int | None:
    """Seconds from 1 to a day; None, with a fault, for anything else."""
    found = spot.duration()
    if found is not None and not 1 <= found <= LONGEST_S:
        spot.fault("that is no time, or more than a day", "write a duration such as 6 min")
        return None
    return found


def _speed(spot: Spot | None) -> float:
    found = spot.number() if spot else 1.0
    if spot is not None and found is not None and not LEAST_RATE <= found <= MOST_RATE:
        spot.fault(f"a speed of {found:g} is out of range", f"write a number from {LEAST_RATE:g} to {MOST_RATE:g}")
    return found if found is not None else 1.0


def _drawn(spot: Spot | None) -> Drawn | None:
    fields = spot.fields(("seed", "count"), ("seed", "count"), "random") if spot else None
    if not fields or "seed" not in fields or "count" not in fields:
        return None
    seed, count = fields["seed"].integer(0, MOST_SEED), fields["count"].integer(0, MOST_OPEN)
    return None if seed is None or count is None else Drawn(seed, count)
