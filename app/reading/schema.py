"""The JSON Schema of a procedure file, for editors. It covers form only: names and order are judged by `checking`.

JSON Schema 2020-12. It is written for what a YAML 1.2 core-schema parser makes of a file, which turns `12` into a
number and `true` into a truth value; the reader takes both as text where a text is asked for, and so does the schema.
"""

from typing import Any

from app.reading.procedure_reader import MOST_CREW, MOST_OPENINGS
from app.reading.spots import ID
from app.reading.yaml_tree import LONGEST_TEXT

Schema = dict[str, Any]

_PART = "[0-9]{1,7}\\s*"
_DURATION = (
    rf"^\s*(?=[0-9P])(?:(?:{_PART}h\s*)?(?:{_PART}(?:min|m)\s*)?(?:{_PART}s\s*)?"
    r"|P(?=[0-9T])(?:[0-9]{1,4}W|(?:[0-9]{1,4}D)?"
    r"(?:T(?=[0-9])(?:[0-9]{1,6}H)?(?:[0-9]{1,7}M)?(?:[0-9]{1,8}S)?)?))\s*$"
)
_CLOCK = r"^\s*[0-9]{1,4}:[0-5][0-9](?::[0-5][0-9])?\s*$"


def schema() -> Schema:
    """The schema as plain values, ready for `json.dumps`."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Leadline procedure",
        "description": "Tasks, steps, people, waits and limits of one crewed operation.",
        **_object(_top(), ("procedure", "title", "tasks")),
        "$defs": _definitions(),
    }


def _definitions() -> Schema:
    return {**_words_and_times(), **_parts()}


def _words_and_times() -> Schema:
    return {
        "id": {
            "title": "Name",
            "description": "Letters, digits, hyphen, underscore and full stop; no blanks.",
            "type": ["string", "number"],
            "pattern": rf"^\s*{ID.pattern}\s*$",
        },
        "text": {
            "title": "Text",
            "type": ["string", "number", "boolean"],
            "pattern": r"\S",
            "maxLength": LONGEST_TEXT,
        },
        "duration": {
            "title": "Duration",
            "description": "8 min, 1 h 30 min, 45 s or ISO 8601 as PT8M. A bare number is refused: it has no unit.",
            "type": "string",
            "pattern": _DURATION,
        },
        "clock": {
            "title": "Elapsed time",
            "description": "h:mm or h:mm:ss since the start of the clock, hours without end.",
            "type": "string",
            "pattern": _CLOCK,
        },
    }


def _parts() -> Schema:
    return {
        "words": {
            "title": "Words",
            "description": "One text or a list of them.",
            "anyOf": [_ref("text"), {"type": "array", "items": _ref("text")}, {"type": "null"}],
        },
        "after": {
            "title": "After",
            "description": "What must be done first.",
            "anyOf": [_ref("link"), {"type": "array", "items": _ref("link")}, {"type": "null"}],
        },
        "link": _link(),
        "takes": {
            "title": "Takes",
            "description": "How long: one duration, or optimistic, likely and pessimistic.",
            "anyOf": [_ref("duration"), _array(_ref("duration"), 3, 3)],
        },
        "value": _object(
            {
                "unit": _text("Unit", "What the value is measured in."),
                "from": _number("From", "The lowest value in tolerance."),
                "to": _number("To", "The highest value in tolerance."),
            },
            ("unit",),
        ),
        "task": _task(),
        "step": _step(),
    }


def _top() -> Schema:
    return {
        "procedure": _ref("id", "Procedure", "The short name of this procedure."),
        "title": _text("Title", "What people call it."),
        "about": _text("About", "What it is for, in a sentence or two."),
        "zero": _text("Zero", "What starts the clock."),
        "crew": _crew(),
        "limits": _titled(
            _object(
                {
                    "finish": _ref("clock", "Finish", "The hard limit."),
                    "close_out": _text("Close-out", "The task that must always still fit before the limit."),
                }
            ),
            "Limits",
            "Times that must not be passed.",
        ),
        "windows": _windows(),
        "supplies": _list_of(_supply(), "Supplies", "What runs out."),
        "rounds": _list_of(_round(), "Rounds", "Checks that come back every so often."),
        "tools": _words("Tools", "The tools at hand."),
        "get_ahead": _titled(
            _object({"least_lead": _ref("duration", "Least lead", "Get-ahead items are offered from this lead on.")}),
            "Get-ahead",
            "When get-ahead items are offered.",
        ),
        "on_plan_within": _ref("duration", "On plan within", "A lead of at most this either way is on plan."),
        "spread": _titled(
            _array({"type": "number"}, 3, 3),
            "Spread",
            "Optimistic, likely and pessimistic factors for steps with one duration.",
        ),
        "tasks": _titled(
            _array(_ref("task"), 1), "Tasks", "Blocks of steps; each person's follow one another in this order."
        ),
    }


def _crew() -> Schema:
    member = {"anyOf": [_object({"does": _text("Does", "What they do.")}), {"type": "null"}]}
    crew = {
        "type": "object",
        "propertyNames": {"pattern": rf"^{ID.pattern}$"},
        "additionalProperties": member,
        "maxProperties": MOST_CREW,
    }
    return _titled(crew, "Crew", "The people and consoles that hold a step list, by designator.")


def _windows() -> Schema:
    openings = _array(_array(_ref("clock"), 2, 2), 1, MOST_OPENINGS)
    return _titled({"type": "object", "additionalProperties": openings}, "Windows", "When some steps can be done.")


def _supply() -> Schema:
    properties = {
        "supply": _text("Supply", "Its name."),
        "who": _ref("words", "Who", "Who carries it."),
        "unit": _text("Unit", "What it is measured in."),
        "reserve": _number("Reserve", "The reading at which it must no longer be used, in its unit."),
    }
    return _object(properties, ("supply", "unit", "reserve"))


def _round() -> Schema:
    properties = {
        "round": _text("Round", "Its name."),
        "asks": _text("Asks", "The question that is put."),
        "who": _ref("words", "Who", "Who is asked."),
        "every": _ref("duration", "Every", "How much time lies between."),
    }
    return _object(properties, ("round", "asks", "every"))


def _link() -> Schema:
    wait = {"wait": _ref("duration", "Wait", "How long to wait after its finish.")}
    reference = {
        "type": ["string", "number"],
        "pattern": rf"^\s*{ID.pattern}/[1-9][0-9]{{0,5}}\s*$",
        "title": "Step",
        "description": "task/number, counted from 1.",
    }
    return {
        "title": "Prerequisite",
        "anyOf": [
            {**reference, "pattern": r"^\s*[^/\s][^/]*(/[1-9][0-9]{0,5})?\s*$", "title": "Task or step"},
            _object({"task": {**_text("Task", "Its id."), "not": {"pattern": "/"}}, **wait}, ("task",)),
            _object({"step": reference, **wait}, ("step",)),
        ],
    }


def _shared() -> Schema:
    return {
        "who": _ref("words", "Who", "Who does it."),
        "after": _ref("after"),
        "not_before": _ref("clock", "Not before", "The earliest start."),
        "within": _text("Within", "The window it must lie in."),
    }


def _task() -> Schema:
    properties = {
        "task": _ref("id", "Task", "Its id, by which others refer to it."),
        "title": _text("Title", "What people call it."),
        **_shared(),
        "where": _text("Where", "Where it is done."),
        "needs": _words("Needs", "The tools it needs."),
        "get_ahead": {"title": "Get-ahead", "description": "Optional, outside the plan.", "type": "boolean"},
        "may_put_off": {"title": "May be put off", "type": "boolean"},
        "worth": _titled(
            {"type": "integer", "minimum": 1, "maximum": 9}, "Worth", "What is lost if it is put off, 1 to 9."
        ),
        "steps": _titled(_array(_ref("step"), 1), "Steps", "They follow one another in this order."),
    }
    return {
        "title": "Task",
        **_object(properties, ("task", "steps")),
        "dependentRequired": {"worth": ["may_put_off"]},
        "if": {"properties": {"may_put_off": {"const": True}}, "required": ["may_put_off"]},
        "then": {"required": ["worth"]},
    }


def _step() -> Schema:
    properties = {
        "do": _text("Do", "The action, as it is read out."),
        "takes": _ref("takes"),
        **_shared(),
        "warning": _text("Warning", "What can hurt a person. Shown before the step."),
        "caution": _text("Caution", "What can harm equipment or the work. Shown before the step."),
        "note": _text("Note", "What helps. Shown before the step."),
        "hold": _titled(
            _object({"go": {"title": "Go", "anyOf": [_ref("text"), _array(_ref("text"), 1)]}}, ("go",)),
            "Hold",
            "Complete only when each named person is go.",
        ),
        "record": _titled(
            {"type": "object", "additionalProperties": _ref("value")}, "Record", "Values to record, by name."
        ),
        "count": _titled(
            {"type": "integer", "minimum": 1, "maximum": 1000}, "Count", "Like actions, marked one by one."
        ),
        "confirm_by": _text("Confirmed by", "A second person who confirms it."),
    }
    return {"title": "Step", **_object(properties, ("do", "takes"))}


def _ref(name: str, title: str = "", description: str = "") -> Schema:
    reference: Schema = {"$ref": f"#/$defs/{name}"}
    return _titled(reference, title, description) if title else reference


def _titled(part: Schema, title: str, description: str) -> Schema:
    return {"title": title, "description": description, **part}


def _text(title: str, description: str) -> Schema:
    return _ref("text", title, description)


def _number(title: str, description: str) -> Schema:
    return {"title": title, "description": description, "type": "number"}


def _words(title: str, description: str) -> Schema:
    return _ref("words", title, description)


def _list_of(items: Schema, title: str, description: str) -> Schema:
    return _titled(_array(items), title, description)


def _array(items: Schema, least: int = 0, most: int | None = None) -> Schema:
    array: Schema = {"type": "array", "items": items, "minItems": least}
    return array if most is None else {**array, "maxItems": most}


def _object(properties: Schema, required: tuple[str, ...] = ()) -> Schema:
    return {
        "type": "object",
        "properties": properties,
        "required": list(required),
        "additionalProperties": False,
    }
