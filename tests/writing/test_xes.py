"""XES against its schema, a transcription of that of IEEE 1849-2016 (see the file), and against an outside reader."""

import json
import subprocess
import sys
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from lxml import etree  # type: ignore[import-untyped] # it has no types, and only this test uses it

from app.core.as_run import as_run
from app.core.events import StepMarked
from app.core.procedure import Procedure
from app.core.situation import Prepared, Situation
from app.writing.run_record import RunRecord
from app.writing.xes import EXTENSIONS, xes
from tests.service.recorded import HOSTILE, MARKS

SCHEMA = Path(__file__).parents[1] / "data" / "xes_1849_structure.xsd"
READ = """\
import json, sys, pm4py
log = pm4py.read_xes(sys.argv[1])
wanted = ["concept:name", "concept:instance", "lifecycle:transition", "org:resource", "case:concept:name", "case:head"]
rows = [[*(row[name] for name in wanted), row["time:timestamp"].isoformat()] for _, row in log.iterrows()]
print("ROWS" + json.dumps(rows))
"""
"""In a process of its own: the reader has much to say, and brings libraries that warn."""


def faults(data: bytes) -> list[str]:
    schema = etree.XMLSchema(etree.parse(str(SCHEMA)))
    schema.validate(etree.fromstring(data))
    return [str(error) for error in schema.error_log]


def test_a_run_is_valid_xes(record: RunRecord) -> None:
    assert faults(xes(record)) == []


def test_the_schema_would_find_a_fault(record: RunRecord) -> None:
    data = xes(record)
    assert faults(data.replace(b'<date key="time:timestamp" value="2031', b'<date key="time:timestamp" value="soon'))
    assert faults(data.replace(b' key="concept:instance"', b""))


def named(procedure: Procedure, text: str) -> Procedure:
    tasks = tuple(
        replace(task, title=text, steps=tuple(replace(step, do=text) for step in task.steps))
        for task in procedure.tasks
    )
    return replace(procedure, title=text, tasks=tasks)


@pytest.mark.parametrize("text", [HOSTILE, "\x00\x0b\ufffe", "\ud800", "<![CDATA[x]]>", "a\tb\nc\rd"])
def test_any_text_is_valid_xes(record: RunRecord, text: str) -> None:
    hostile = Prepared(named(record.situation.procedure, text))
    state = record.situation.state
    data = xes(replace(record, situation=Situation(hostile, state, record.situation.at_s)))
    assert faults(data) == []
    names = etree.fromstring(data).xpath("//event/string[@key='concept:name']/@value")
    assert len(names) == 2 * len(MARKS)


def test_an_outside_reader_finds_the_names_times_and_resources_of_the_log(record: RunRecord, tmp_path: Path) -> None:
    """pm4py, an open reader of XES."""
    file = tmp_path / "run.xes"
    file.write_bytes(xes(record))
    words = [sys.executable, "-W", "ignore", "-c", READ, str(file)]
    done = subprocess.run(words, capture_output=True, text=True, timeout=120, check=True)
    (said,) = (line for line in done.stdout.splitlines() if line.startswith("ROWS"))
    rows = json.loads(said.removeprefix("ROWS"))
    assert {(row[4], row[5]) for row in rows} == {("run-1", record.head)}
    completed = {row[1]: (row[0], row[3], row[6]) for row in rows if row[2] == "complete"}
    marks = {each.event.step: each.at_s for each in record.log if isinstance(each.event, StepMarked)}
    procedure = record.situation.procedure
    assert completed == {
        step: (
            f"{step} {procedure.step(step).do}",
            ", ".join(procedure.step(step).who),
            (record.zero_utc + timedelta(seconds=at_s)).isoformat(),
        )
        for step, at_s in marks.items()
    }
    started = {row[1]: row[6] for row in rows if row[2] == "start"}
    assert started["rig/1"] == (record.zero_utc + timedelta(seconds=20)).isoformat()
    assert started.keys() == completed.keys()


def test_events_stand_in_the_order_of_their_times_and_a_step_begins_before_it_ends(record: RunRecord) -> None:
    events = etree.fromstring(xes(record)).findall("trace/event")
    values = [{each.get("key"): each.get("value") for each in event} for event in events]
    times = [datetime.fromisoformat(each["time:timestamp"]) for each in values]
    assert times == sorted(times)
    for step in MARKS:
        assert [each["lifecycle:transition"] for each in values if each["concept:instance"] == step] == [
            "start",
            "complete",
        ]


def test_a_step_that_nobody_began_is_not_in_it(record: RunRecord) -> None:
    waiting = {step.id for step in as_run(record.situation) if step.finish_s is None}
    assert waiting == {"sweep/1"}
    assert b"sweep/1" not in xes(record)


def test_every_prefix_is_that_of_a_declared_extension(record: RunRecord) -> None:
    log = etree.fromstring(xes(record))
    declared = {each.get("prefix"): each.get("uri") for each in log.findall("extension")}
    assert declared == dict(EXTENSIONS.values())
    used = {key.partition(":")[0] for key in log.xpath("//@key") if ":" in key}
    assert used == set(declared)
