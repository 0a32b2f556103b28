"""The tests' own PostgreSQL: it is gone with whoever started it, and where there is none the run says so."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import psycopg
import pytest

from tests import postgres
from tests.served import ROOT, environment

WANTS_ONE = "def test_it(postgres_url):\n    assert postgres_url\n"
MAKES_ONE = """
import os, signal
from tests.postgres import Cluster
made = Cluster(quick=True)
print(made._postgres.pid, made.folder, flush=True)
os.kill(os.getpid(), signal.SIGKILL)
"""


def run_without_one(tmp_path: Path, *words: str, **variables: str) -> subprocess.CompletedProcess[str]:
    """A run of pytest, with the tree's own conftest and few plugins, of one test that wants PostgreSQL."""
    wants = tmp_path / "test_wants.py"
    wants.write_text(WANTS_ONE)
    plain = ("-c", os.devnull, "-p", "no:cacheprovider", "-p", "tests.conftest")
    line = [sys.executable, "-m", "pytest", *plain, *words, str(wants)]
    env = {**environment(), "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1", "LEADLINE_POSTGRES_BIN": str(tmp_path), **variables}
    return subprocess.run(line, cwd=ROOT, env=env, capture_output=True, text=True, timeout=120, check=False)


@pytest.mark.parametrize(
    "words", [(), ("-p", "xdist.plugin", "--numprocesses", "1")], ids=["in one process", "dealt out"]
)
def test_a_run_without_postgresql_says_in_one_line_that_it_was_not_tested_and_why(
    tmp_path: Path, words: tuple[str, ...]
) -> None:
    run = run_without_one(tmp_path, *words, LEADLINE_POSTGRES="")
    why = f"LEADLINE_POSTGRES_BIN names {tmp_path}, and there is no pg_ctl in it."
    assert f"PostgreSQL was not tested: {why} Tests skipped for it: 1." in run.stdout.splitlines()
    assert run.returncode == 0, run.stdout + run.stderr


def test_a_run_that_requires_postgresql_fails_without_it(tmp_path: Path) -> None:
    run = run_without_one(tmp_path, LEADLINE_POSTGRES="required")
    assert run.returncode == 1
    assert "LEADLINE_POSTGRES=required, and LEADLINE_POSTGRES_BIN names" in run.stdout


def test_a_run_with_postgresql_says_nothing_of_it(postgres_url: str, tmp_path: Path) -> None:
    assert postgres_url
    run = run_without_one(tmp_path, LEADLINE_POSTGRES_BIN=str(postgres.binaries()))
    assert run.returncode == 0, run.stdout + run.stderr
    assert "was not tested" not in run.stdout


@pytest.mark.usefixtures("postgres_cluster")
def test_a_cluster_is_gone_when_the_process_that_made_it_is_killed() -> None:
    made = subprocess.run(
        [sys.executable, "-c", MAKES_ONE], cwd=ROOT, env=environment(), capture_output=True, text=True, check=False
    )
    postmaster, folder = made.stdout.split()
    postgres.until(lambda: not postgres.lives(int(postmaster)))
    shutil.rmtree(folder)


def test_a_new_database_is_empty_in_utf8_and_orders_texts_otherwise_than_their_bytes(postgres_url: str) -> None:
    with psycopg.connect(postgres_url.replace("+psycopg", "")) as db:
        assert db.execute("SELECT count(*) FROM pg_tables WHERE schemaname = 'public'").fetchone() == (0,)
        assert db.execute("SHOW server_encoding").fetchone() == ("UTF8",)
        if db.info.server_version >= 150000:
            assert db.execute("SELECT 'a' < 'B'").fetchone() == (True,)


def test_what_was_committed_is_there_after_the_server_was_killed(postgres_cluster: postgres.Cluster) -> None:
    cluster = postgres.Cluster()
    try:
        words = cluster.conninfo()
        with psycopg.connect(words) as db:
            db.execute("CREATE TABLE kept (what text)")
            db.execute("INSERT INTO kept VALUES ('this')")
        cluster.kill()
        with pytest.raises(psycopg.OperationalError):
            psycopg.connect(words)
        cluster.start()
        with psycopg.connect(words) as db:
            assert db.execute("SELECT what FROM kept").fetchall() == [("this",)]
    finally:
        cluster.close()
    assert cluster.folder != postgres_cluster.folder
    assert not cluster.folder.exists()
