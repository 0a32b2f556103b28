"""A small sound file, and where the faults of a changed one stand. It asserts only what holds for every reading."""

from app.core.procedure import Procedure
from app.reading.procedure_reader import read_procedure

TOP = """\
procedure: small
title: Small
crew: {EV1: {does: a}, EV2: {does: b}}
windows: {day: [[0:00, 9:00]]}
tools: [saw, file]
tasks:
  - task: b
    steps: [{do: x, takes: 1 min, who: EV1}, {do: y, takes: 1 min, who: EV2}]
"""
"""Eight lines, to which a test adds a task beginning in line 9."""


def places(text: str | bytes) -> list[tuple[int, int, str]]:
    reading = read_procedure(text)
    assert all(fault.remedy for fault in reading.faults)
    assert (reading.procedure is None) == any(not fault.remark for fault in reading.faults)
    return [(fault.line, fault.column, fault.what) for fault in reading.faults]


def sound(text: str) -> Procedure:
    reading = read_procedure(text)
    assert reading.faults == ()
    assert reading.procedure is not None
    return reading.procedure


def with_task(keys: str, step: str = "{do: x, takes: 1 min}") -> str:
    return f"{TOP}  - task: a\n    {keys}\n    steps:\n      - {step}\n"
