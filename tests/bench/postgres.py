"""Marks with PostgreSQL as the database: those of `marks`, on a cluster of the bench's own on this machine.

The design gives no budget for these. Its network is loopback, so what a real one adds is not in them.
"""

import asyncio
import statistics
import time
from collections.abc import Iterator

import psycopg

from tests import postgres
from tests.bench import boards
from tests.bench.marks import FILES_OF_MANY, SCREENS, STATIONS, STEPS, mark_all, marks_per_second
from tests.bench.report import Figure, Measures, Row, spread
from tests.bench.serving import leadline
from tests.bench.timing import percentile

ONE = "PostgreSQL: a mark acknowledged; board of 200 steps, 1 station"
MANY = f"PostgreSQL: marks per second; {STATIONS} stations, {SCREENS} screens, board of 200 steps"


def _both() -> Iterator[Row]:
    if why := postgres.why_not():
        yield from (Row(what, missing=f"left out: {why}") for what in (ONE, MANY))
        return
    cluster = postgres.Cluster()
    try:
        yield _one(cluster)
        yield _many(cluster)
    finally:
        cluster.close()


def _one(cluster: postgres.Cluster) -> Row:
    with leadline({"bench.yaml": boards.text(STEPS)}, database=cluster.new_database()) as served:
        times = asyncio.run(mark_all(served, STEPS, 3))
    commits = _raw_commits(cluster)
    middle, commit = statistics.median(times), statistics.median(commits)
    return Row(
        ONE,
        (*spread(times), Figure("p50 in raw commits", middle / commit, "x")),
        f"one raw commit of a row by psycopg: p50 {commit:.2f} ms, p99 {percentile(commits, 99):.2f} ms",
    )


def _many(cluster: postgres.Cluster) -> Row:
    with leadline(FILES_OF_MANY, database=cluster.new_database()) as served:
        rate, times = asyncio.run(marks_per_second(served))
    commit_ms = statistics.median(_raw_commits(cluster))
    return Row(
        MANY,
        (Figure("marks", rate, "a second"), *spread(times)),
        f"raw commits by psycopg, one after the other: {1000 / commit_ms:,.0f} a second",
    )


def _raw_commits(cluster: postgres.Cluster, count: int = 300) -> list[float]:
    """Milliseconds of each of so many single-row transactions on the same cluster."""
    found = []
    with psycopg.connect(cluster.conninfo(), autocommit=True) as connection:
        connection.execute("CREATE TABLE IF NOT EXISTS bench_mark (body text NOT NULL)")
        for _ in range(count):
            began = time.perf_counter()
            connection.execute("INSERT INTO bench_mark (body) VALUES (%s)", ("x" * 300,))
            found.append((time.perf_counter() - began) * 1000)
    return found


ROWS: Measures = {"": _both}
