"""A run as performed, as CSV: read by Python's own csv module, and the same as the log."""

import csv
from io import StringIO

from app.core.as_run import as_run
from app.core.events import StepMarked
from app.reading.escapes import SIGNS
from app.writing.as_run_csv import COLUMNS, as_run_csv
from app.writing.csv_file import csv_table
from app.writing.run_record import RunRecord
from tests.service.making import BEGUN
from tests.service.recorded import HOSTILE, MARKS, SIGNED


def rows(record: RunRecord) -> list[dict[str, str]]:
    text = as_run_csv(record).decode("utf-8-sig")
    return list(csv.DictReader(StringIO(text, newline=""), strict=True))


def test_the_columns_are_fixed() -> None:
    assert COLUMNS == (
        "run", "kind", "procedure", "revision", "zero_utc", "head", "step", "task", "do", "who", "state",
        "plan_start_s", "plan_finish_s", "takes_s", "start_s", "start_is", "finish_s", "took_s", "finish_shift_s",
        "start_utc", "finish_utc", "signed_by",
    )  # fmt: skip


def test_each_step_has_a_row_with_what_the_log_says(record: RunRecord) -> None:
    found = {row["step"]: row for row in rows(record)}
    assert list(found) == [step.id for step in as_run(record.situation)]
    assert {step: int(row["finish_s"]) for step, row in found.items() if row["finish_s"]} == MARKS
    marks = {each.event.step: each for each in record.log if isinstance(each.event, StepMarked)}
    assert {step: row["signed_by"] for step, row in found.items() if row["signed_by"]} == dict.fromkeys(MARKS, SIGNED)
    assert {step: each.at_s for step, each in marks.items()} == MARKS


def test_what_was_recorded_is_told_from_what_was_worked_out(record: RunRecord) -> None:
    found = {
        row["step"]: (row["start_s"], row["start_is"], row["took_s"], row["finish_shift_s"]) for row in rows(record)
    }
    assert found["rig/1"] == ("20", "recorded", "290", "10")
    assert found["rig/2"] == ("310", "worked out", "590", "0")
    assert found["sweep/1"] == ("", "", "", "")


def test_a_moment_is_zero_and_the_elapsed_seconds(record: RunRecord) -> None:
    (row,) = [row for row in rows(record) if row["step"] == "rig/1"]
    assert row["zero_utc"] == "2031-05-04T07:00:00.000Z"
    assert (row["start_utc"], row["finish_utc"]) == ("2031-05-04T07:00:20.000Z", "2031-05-04T07:05:10.000Z")
    assert record.utc(20).timestamp() - BEGUN.timestamp() == 20


def test_each_row_names_its_run_and_the_head(record: RunRecord) -> None:
    named = {(row["run"], row["kind"], row["procedure"], row["head"]) for row in rows(record)}
    assert named == {("1", "live", "mast", record.head)}
    assert record.head.startswith("13:")


def test_no_text_begins_with_a_sign_that_a_spreadsheet_runs() -> None:
    data = csv_table(("do", "n"), [{"do": text, "n": -5} for text in ("=1", "@x", "\tx", HOSTILE, "'=1", "plain")])
    found = list(csv.reader(StringIO(data.decode("utf-8-sig"), newline="")))
    assert not any(row[0][:1] in SIGNS for row in found[1:])
    assert {row[1] for row in found[1:]} == {"-5"}, "a number stays one"
