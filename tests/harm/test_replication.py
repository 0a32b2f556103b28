"""The database is lost under load, its standby promoted: what was acknowledged is in it, if it was synchronous."""

import uuid
from pathlib import Path

import psycopg
import pytest

from tests.harm.load import PROCEDURE, procedure
from tests.harm.replication import LEAST, pair, trial
from tests.harm.server import Server
from tests.harm.wire import Line, NoAnswer, start_run

pytestmark = pytest.mark.usefixtures("postgres_cluster")


def test_a_synchronous_standby_that_is_promoted_has_every_acknowledged_press_once() -> None:
    found = trial(synchronous=True)
    assert found.broken == []
    assert (found.lost, found.moved, found.doubled) == (0, 0, 0)
    assert found.after >= LEAST, "the servers went on by themselves"


def test_what_a_standby_was_kept_from_receiving_is_found_to_be_lost() -> None:
    found = trial(synchronous=False, held_back=True)
    assert found.lost >= LEAST
    assert found.broken == [], "the servers show what the promoted database has, and no more"


def test_without_its_synchronous_standby_a_press_waits_and_is_acknowledged_when_the_keeper_does_without_it(
    tmp_path: Path,
) -> None:
    with pair(synchronous=True) as both:
        settings = {"LEADLINE_DATABASE": both.url}
        with Server(tmp_path, {PROCEDURE: procedure()}, environment=settings) as server, Line(server.port) as line:
            run = start_run(line, PROCEDURE)
            both.second.stop()
            press = {"do": "note", "reason": "all well", "key": str(uuid.uuid4())}
            with Line(server.port, timeout_s=2) as impatient, pytest.raises(NoAnswer):
                impatient.post(f"/api/runs/{run}/orders", press)
            with psycopg.connect(both.first.conninfo(), autocommit=True) as db:
                db.execute("ALTER SYSTEM SET synchronous_standby_names = ''")
                db.execute("SELECT pg_reload_conf()")
            assert line.post(f"/api/runs/{run}/orders", press).status == 200
