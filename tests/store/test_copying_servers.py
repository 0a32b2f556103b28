"""Copying out of and into a PostgreSQL database, which servers may be using."""

import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import psycopg
import pytest

from app.store.copy_places import Folder, Server, place_of
from app.store.copying import CannotCopy
from app.store.engine import FILE_NAME
from app.store.faults import ForeignDatabase
from app.store.postgres_store import PostgresStore
from tests import postgres
from tests.harm.examined import examine
from tests.postgres import Cluster
from tests.served import called
from tests.store.copies import address, copied, plain, rows, secret_of
from tests.store.loosening import loosened
from tests.store.making import MIGRATIONS, a_run, append


def test_one_server_s_database_is_copied_into_another_s(data: Path, postgres_cluster: Cluster, server: Server) -> None:
    copied(Folder(data), server)
    other = place_of(postgres_cluster.new_database())
    copied(server, other)
    assert rows(other) == rows(Folder(data))


def test_a_database_may_be_written_while_it_is_copied_as_it_is_at_one_moment(server: Server, tmp_path: Path) -> None:
    with PostgresStore(address(server), tmp_path / "own", MIGRATIONS) as store:
        runs = [a_run(store), a_run(store)]
        stop = threading.Event()

        def write() -> None:
            number = 0
            while not stop.is_set():
                number += 1
                for run in runs:
                    append(store, run, f"key-{number}")

        with ThreadPoolExecutor(1) as pool:
            writing = pool.submit(write)
            postgres.until(lambda: len(rows(server)["event"]) > 20)
            before = len(rows(server)["event"])
            made = [copied(server, Folder(tmp_path / f"copy-{number}")) for number in range(3)]
            stop.set()
            writing.result()
    events = [each.rows["event"] for each in made]
    assert before <= events[0] < events[1] < events[2] <= len(rows(server)["event"])
    for number, each in enumerate(made):
        first, second = (each.heads[run][0] for run in runs)
        assert first - second in (0, 1), "what was written first is never missing beside what was written after it"
        assert examine(tmp_path / f"copy-{number}").faults == ()


def test_a_database_that_holds_rows_is_not_copied_to(data: Path, server: Server) -> None:
    copied(Folder(data), server)
    before = rows(server)
    with pytest.raises(CannotCopy, match=r"not empty \(rows: revision 2, run 3"):
        copied(Folder(data), server)
    assert rows(server) == before


def test_a_database_on_which_servers_are_at_work_is_not_copied_to(data: Path, server: Server, tmp_path: Path) -> None:
    with (
        PostgresStore(address(server), tmp_path / "own", MIGRATIONS),
        pytest.raises(CannotCopy, match=r"Servers are at work on .*:\*\*\*@"),
    ):
        copied(Folder(data), server)
    assert copied(Folder(data), server).rows["event"] == 64, (
        "once they are stopped, tables without rows are no hindrance"
    )


def test_a_database_of_others_is_not_copied_to(data: Path, server: Server) -> None:
    with psycopg.connect(plain(server)) as db:
        db.execute("CREATE TABLE theirs (what text)")
    with pytest.raises(ForeignDatabase):
        copied(Folder(data), server)


def test_a_text_that_postgresql_has_no_place_for_is_refused_in_words(data: Path, server: Server) -> None:
    loosened(data / FILE_NAME, "UPDATE revision SET source = 'a' || char(0)")
    with pytest.raises(CannotCopy, match="NUL"):
        copied(Folder(data), server)
    assert not any(rows(server).values())


def test_a_dump_of_postgresql_s_own_is_restored_with_its_guards_and_verifies(
    data: Path, postgres_cluster: Cluster, server: Server, tmp_path: Path
) -> None:
    copied(Folder(data), server)
    other = place_of(postgres_cluster.new_database())
    assert isinstance(other, Server)
    dump = postgres_cluster.folder / f"{server.url.database}.dump"
    postgres_cluster.command("pg_dump", "--format=custom", f"--file={dump}", "--dbname", plain(server))
    postgres_cluster.command("pg_restore", "--exit-on-error", "--no-owner", "--dbname", plain(other), dump)
    assert rows(other) == rows(Folder(data))
    assert secret_of(other) == secret_of(Folder(data))
    verified = called("verify", "--database", address(other), folder=tmp_path)
    assert (verified.returncode, verified.stderr) == (0, ""), "verify looks at the guards too"
    with psycopg.connect(plain(other)) as db, pytest.raises(psycopg.Error, match="never changed"):
        db.execute("DELETE FROM event")
