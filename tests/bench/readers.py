"""How long procedure files take to read: large sound ones, and the hostile ones of the tests, with their memory."""

import time
import tracemalloc
from collections.abc import Callable, Iterator
from functools import partial

from app.reading.csv_file import read_csv
from app.reading.procedure_reader import read_procedure
from app.reading.xlsx_file import read_xlsx
from app.writing.files import written
from tests.bench.report import Figure, Measures, Row
from tests.reading.test_csv_file import LONG
from tests.reading.test_xlsx_file import HOSTILE

STEPS = 2_000
LARGE = "procedure: large\ntitle: Large\ncrew: {EV1: {}}\ntasks:\n" + "".join(
    f"  - {{task: t{number}, who: EV1, steps: [{{do: Turn it, takes: 1 min}}, {{do: Look, takes: 1 min}}]}}\n"
    for number in range(STEPS // 2)
)


def _all() -> Iterator[Row]:
    made = read_procedure(LARGE).procedure
    assert made is not None
    csv, xlsx = written(made, "csv"), written(made, "xlsx")
    yield Row(
        f"A procedure of {STEPS:,} steps read",
        (
            Figure("YAML", _seconds(lambda: read_procedure(LARGE)), "s", 2),
            Figure("CSV", _seconds(lambda: read_csv(csv)), "s", 2),
            Figure("XLSX", _seconds(lambda: read_xlsx(xlsx)), "s", 2),
        ),
    )
    yield _worst("The hostile workbooks of the tests refused", [(name, make()) for name, (make, _) in HOSTILE.items()])
    yield _worst("The hostile CSV files of the tests", [(name, text.encode()) for name, text in LONG.items()])


def _worst(what: str, files: list[tuple[str, bytes]]) -> Row:
    read: Callable[[bytes], object] = read_xlsx if "workbook" in what else read_csv
    slowest = max((_seconds(partial(read, data)), name) for name, data in files)
    largest = max((_megabytes(partial(read, data)), name) for name, data in files)
    figures = (
        Figure("the slowest", slowest[0], "s", 2),
        Figure("the most memory", largest[0], "MB", 256),
    )
    return Row(what, figures, f"{len(files)} files; the slowest is “{slowest[1]}”, the largest “{largest[1]}”")


def _seconds(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def _megabytes(work: Callable[[], object]) -> float:
    """At most, of what Python allocates meanwhile."""
    tracemalloc.start()
    try:
        work()
        return tracemalloc.get_traced_memory()[1] / 1e6
    finally:
        tracemalloc.stop()


ROWS: Measures = {"": _all}
