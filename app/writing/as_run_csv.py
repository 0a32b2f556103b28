"""A run as performed, as a CSV table: one row for each step, with its plan beside it. It opens no file.

Each row says of which run it is, so that the tables of several runs can be put below one another.
"""

from collections.abc import Iterator

from app.core.as_run import AsRunStep
from app.core.times import instant
from app.writing.csv_file import csv_table
from app.writing.run_record import RunRecord, start_words, state_words

COLUMNS = (
    *("run", "kind", "procedure", "revision", "zero_utc", "head"),
    *("step", "task", "do", "who", "state", "plan_start_s", "plan_finish_s", "takes_s"),
    *("start_s", "start_is", "finish_s", "took_s", "finish_shift_s", "start_utc", "finish_utc", "signed_by"),
)
"""``_s``: whole seconds, of elapsed time or long. ``finish_shift_s``: done so much later than planned, below 0 earlier.
``start_is``: whether the start was recorded or worked out. ``head``: of the log, to be checked by `leadline verify`.
"""


def as_run_csv(record: RunRecord) -> bytes:
    """The file: a header and a row for each step, in the procedure's order, the added ones last."""
    return csv_table(COLUMNS, _rows(record))


def _rows(record: RunRecord) -> Iterator[dict[str, str | float | None]]:
    state = record.situation.state
    of_run = (record.run, state.kind, record.situation.procedure.id, state.revision, instant(record.zero_utc))
    for step in record.steps:
        yield dict(zip(COLUMNS, (*of_run, record.head, *_step(record, step)), strict=True))


def _step(record: RunRecord, step: AsRunStep) -> tuple[str | int | None, ...]:
    planned = (step.plan_start_s, step.plan_finish_s, step.takes_s)
    performed = (step.start_s, start_words(step), step.finish_s, step.took_s, step.finish_shift_s)
    moments = (None if each is None else instant(record.utc(each)) for each in (step.start_s, step.finish_s))
    who = ", ".join(step.who)
    return (step.id, step.task, step.do, who, state_words(step), *planned, *performed, *moments, step.by)
