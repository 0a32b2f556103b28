"""The fixed JSON of a debrief and of a comparison. It computes nothing.

Its names are those of the values in `debrief` and `compare`; `tests/web/test_api_debrief.py` holds the sets of keys.
"""

from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import Any

from app.core.as_run import AsRunStep
from app.core.compare import Comparing, Ran
from app.core.debrief import Debrief
from app.core.lead_moves import LeadMove
from app.core.lead_so_far import LeadPoint
from app.core.procedure import Designator


def debrief_report(told: Debrief) -> dict[str, Any]:
    """All of it, as JSON values."""
    whole = asdict(told)
    return whole | {
        "steps": [_step(step) for step in told.steps],
        "tasks": [asdict(task) | {"finish_shift_s": task.finish_shift_s} for task in told.tasks],
        "lead": {
            "team": _moves(told.lead.team),
            "people": {person: _moves(moves) for person, moves in told.lead.people},
        },
        "points": [_point(point, tuple(person.designator for person in told.people)) for point in told.points],
        "holds": [asdict(hold) | {"after_s": hold.after_s} for hold in told.holds],
        "rounds": [
            asdict(one) | {"made": [asdict(made) | {"late_s": made.late_s} for made in one.made]} for one in told.rounds
        ],
        "tools": [
            asdict(tool) | {"moves": [{"at_s": at_s, "words": words} for at_s, words in tool.moves]}
            for tool in told.tools
        ],
    }


def _step(step: AsRunStep) -> dict[str, Any]:
    state = None if step.state is None else str(step.state)
    return asdict(step) | {"state": state, "took_s": step.took_s, "finish_shift_s": step.finish_shift_s}


def _point(point: LeadPoint, crew: Sequence[Designator]) -> dict[str, Any]:
    return {"at_s": point.at_s, "team_s": point.team_s, "people": dict(zip(crew, point.people, strict=True))}


def _moves(moves: Iterable[LeadMove]) -> list[dict[str, Any]]:
    return [asdict(move) | {"how": str(move.how)} for move in moves]


def compare_report(found: Comparing) -> dict[str, Any]:
    """All of it, as JSON values; of each run only what is not in the rows."""
    return asdict(found) | {"runs": [_ran(each) for each in found.runs]}


def _ran(each: Ran) -> dict[str, Any]:
    """A run's row: its steps and people stand in the comparison."""
    return {
        "run": each.run,
        "revision": each.revision,
        "kind": each.kind,
        "ended": each.ended,
        "at_s": each.at_s,
        "plan_finish_s": each.plan_finish_s,
        "finish_s": each.finish_s,
        "lead_s": each.lead_s,
    }
