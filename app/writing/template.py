"""The template of a procedure table: the columns, and an example of each kind of row with a remark on what it is.

The example is a sound procedure, so that a planner begins with a file that loads. Invented, like all of Larkspur.
"""

from app.reading.columns import COLUMNS, KINDS, REMARK
from app.reading.files import Kind
from app.writing.csv_file import csv_bytes
from app.writing.table import Row

_EXAMPLES: tuple[Row, ...] = (
    {
        "row": "procedure", "name": "my-outing", "text": "My outing", "about": "What it is for, in a sentence or two.",
        "zero": "Outer hatch open", "finish": "4:50", "close_out": "come-in", "least_lead": "2 min",
        "on_plan_within": "1 min", "spread": "0.8 | 1 | 1.6",
    },
    {"row": "crew", "name": "EV1", "text": "Outside, left side"},
    {"row": "crew", "name": "GROUND", "text": "Loop systems, on the ground"},
    {"row": "window", "name": "daylight", "openings": "0:10..1:05; 1:42..2:37"},
    {"row": "supply", "name": "battery", "who": "EV1", "unit": "%", "reserve": 12},
    {"row": "round", "name": "gloves", "text": "Gloves, suit, tethers. Any damage?", "who": "EV1", "every": "60 min"},
    {"row": "tool", "name": "line wrench"},
    {"row": "tool", "name": "camera"},
    {"row": "task", "name": "shut-valves", "text": "Shut the valves", "who": "EV1", "where": "bay 4",
     "needs": "line wrench"},
    {"row": "step", "name": "shut-valves", "text": "Shut valves V1 to V4", "takes": "6 min | 8 min | 14 min",
     "warning": "One tether hooked at all times.", "caution": "Do not force the handle.",
     "note": "Clockwise is shut.", "record": "turns [turn] 11..13", "count": 4},
    {"row": "step", "name": "shut-valves", "text": "Are all valves shut?", "takes": "2 min", "hold": "EV1; GROUND"},
    {"row": "task", "name": "prove", "text": "Prove the loop", "who": "GROUND", "after": "shut-valves",
     "not_before": "0:15"},
    {"row": "step", "name": "prove", "text": "Watch the pressure fall", "takes": "8 min", "confirm_by": "EV1"},
    {"row": "task", "name": "photo-survey", "text": "Photo survey of bay 3", "who": "EV1",
     "after": "shut-valves/2 + 5 min", "within": "daylight", "needs": "camera", "may_put_off": "true", "worth": 4},
    {"row": "step", "name": "photo-survey", "text": "Twelve photographs along the panel edge", "takes": "18 min"},
    {"row": "task", "name": "come-in", "text": "Come in", "who": "EV1", "after": "prove; photo-survey"},
    {"row": "step", "name": "come-in", "text": "Back to the hatch", "takes": "14 min"},
    {"row": "task", "name": "wipe-window", "text": "Wipe the sensor window", "who": "EV1", "after": "shut-valves",
     "get_ahead": "true"},
    {"row": "step", "name": "wipe-window", "text": "Wipe it in three passes", "takes": "20 min"},
)  # fmt: skip


def template(kind: Kind) -> bytes:
    """The template as CSV, or as a workbook for every other kind."""
    rows = template_rows()
    if kind == "csv":
        return csv_bytes(rows)
    from app.writing.xlsx_file import xlsx_bytes

    return xlsx_bytes(rows)


def template_rows() -> list[Row]:
    """The examples, the first of each kind under a remark that says what the kind is and which columns it has."""
    rows: list[Row] = [{"row": f"{REMARK} Rows that begin with {REMARK} are remarks. Put your own rows here."}]
    seen: set[str] = set()
    for example in _EXAMPLES:
        kind = str(example["row"])
        if kind not in seen:
            columns = ", ".join(each.name for each in COLUMNS[1:] if kind in each.meaning)
            rows.append({"row": f"{REMARK} {kind}: {KINDS[kind]} Columns: {columns}."})
            seen.add(kind)
        rows.append(example)
    return rows
