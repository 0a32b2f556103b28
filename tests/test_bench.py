"""What the bench says of its figures, and that no test holds what the bench times."""

import ast
import json
from pathlib import Path

import pytest

from tests.bench import report
from tests.bench.__main__ import GROUPS, NAMES, chosen
from tests.bench.hours import _rise
from tests.bench.report import Figure, Row, short, show, spread, verdict, write

TESTS = Path(__file__).parent
MAY_BE_TAKEN = {"boards", "calibration", "full_boards", "report", "hours", "__main__"}
"""Procedures, values and words of the bench, and what finds its rows; `hours` for the arithmetic of its line."""
MACHINE = {"at": "2031-05-04T07:00:00+00:00"}


def _bench_modules(text: str) -> set[str]:
    """What of tests.bench a source imports."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.ImportFrom) and node.module == "tests.bench":
            found |= {each.name for each in node.names}
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("tests.bench."):
            found.add((node.module or "").split(".")[2])
    return found


def test_no_test_asserts_a_time_that_the_bench_takes() -> None:
    taken = {
        path.name: more
        for path in TESTS.rglob("*.py")
        if path.parent.name != "bench" and (more := _bench_modules(path.read_text()) - MAY_BE_TAKEN)
    }
    assert taken == {}
    assert _bench_modules("from tests.bench.timing import median\nfrom tests.bench import marks") == {"timing", "marks"}


def test_a_word_asks_for_a_row_or_for_all_of_a_group_and_no_word_for_everything() -> None:
    assert chosen([]) == list(NAMES)
    assert chosen(["marks-one"]) == ["marks-one"]
    assert chosen(["screens", "marks-one"]) == ["marks-one", "screens-200", "screens-1000"]
    with pytest.raises(SystemExit, match="There is no row mark; the rows are marks-one"):
        chosen(["mark"])


def test_every_group_has_rows_and_each_has_a_name_of_its_own() -> None:
    assert all(GROUPS.values())
    assert len(NAMES) == sum(len(rows) for rows in GROUPS.values())


def test_a_figure_keeps_its_budget_up_to_it_and_no_further() -> None:
    assert [Figure("p50", value, "ms", 8).met for value in (7.9, 8.0, 8.1)] == [True, True, False]
    assert [Figure("marks", value, "a second", 500, at_least=True).met for value in (499, 500)] == [False, True]
    assert Figure("p50", 1, "ms").met is None


def test_a_row_is_met_when_all_its_budgets_are_and_has_no_verdict_without_one() -> None:
    kept, broken, free = Figure("a", 1, "ms", 2), Figure("b", 3, "ms", 2), Figure("c", 3, "ms")
    rows = [Row("kept", (kept, free)), Row("broken", (kept, broken)), Row("free", (free,)), Row("left", missing="no")]
    assert [row.met for row in rows] == [True, False, None, None]
    assert verdict(rows) == "1 rows met, 1 not met, 2 without a verdict"


def test_the_median_and_the_99th_percentile_are_by_nearest_rank() -> None:
    p50, p99 = spread([float(each) for each in range(1, 201)], p99=150)
    assert (p50.value, p99.value, p50.met, p99.met) == (100.5, 198.0, None, False)
    assert spread([3.0, 1.0, 2.0], "s", name="read")[1] == Figure("read, p99", 3.0, "s")


def test_a_row_is_shown_with_its_reference_how_long_it_took_and_what_was_not_met() -> None:
    row = Row("A mark", (Figure("p50", 9.25, "ms", 8),), "a commit: 0.2 ms", took_s=3.4)
    assert show(row).splitlines() == [
        "A mark (3 s)",
        "    beside: a commit: 0.2 ms",
        f"    {'p50 9.25 ms':<46} {'≤ 8.00 ms':<16} NOT MET",
    ]
    assert [short(value) for value in (0, 0.01234, 12.34, 1234.5)] == ["0", "0.0123", "12.3", "1,234"]


def test_some_rows_replace_their_own_and_the_whole_bench_replaces_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(report, "LATEST", tmp_path / "latest.json")

    def whats() -> list[tuple[str, float]]:
        rows = json.loads((tmp_path / "latest.json").read_text())["rows"]
        return [(row["what"], row["figures"][0]["value"]) for row in rows]

    write([Row("a", (Figure("p50", 1, "ms"),)), Row("b", (Figure("p50", 1, "ms"),))], MACHINE, whole=True)
    write([Row("b", (Figure("p50", 2, "ms"),))], MACHINE, whole=False)
    assert whats() == [("b", 2), ("a", 1)]
    write([Row("b", (Figure("p50", 3, "ms"),))], MACHINE, whole=True)
    assert whats() == [("b", 3)]


def test_the_line_through_memory_is_its_slope_by_least_squares() -> None:
    assert _rise([(2.0, 100.0), (3.0, 102.0), (4.0, 104.0)]) == pytest.approx(2.0)
    assert _rise([(2.0, 100.0), (3.0, 103.0), (4.0, 100.0)]) == pytest.approx(0.0)
