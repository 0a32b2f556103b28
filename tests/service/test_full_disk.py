"""The disk is full: an order is refused in words, nothing of it is kept, and the next ones work.

Here the file may not grow; on a disk that is full for all, a whole server is tried by `tests/harm/full_disk.py`.
"""

import pytest
from sqlalchemy import Connection

from app.core.commands import AddNote, MarkStep
from app.core.fold import fold
from app.service.runs import Service
from app.store import journal
from app.store.faults import StoreFull
from app.web.keys import new_key
from tests.service.making import SetClock, sender, small_run


def _no_more_room(conn: Connection) -> int:
    """The file may not grow by one page."""
    pages = int(conn.exec_driver_sql("PRAGMA page_count").scalar_one())
    return int(conn.exec_driver_sql(f"PRAGMA max_page_count={pages}").scalar_one())


def _room(conn: Connection) -> int:
    return int(conn.exec_driver_sql("PRAGMA max_page_count=1000000").scalar_one())


def _fill(service: Service, run: int) -> int:
    """Notes until there is no room. Returns how many were taken."""
    service.store.write(_no_more_room).result()
    for count in range(200):
        future = service.order(run, AddNote("x" * 2_000), sender())
        if isinstance(future.exception(), StoreFull):
            return count
    raise AssertionError("the disk never was full")


def test_a_full_disk_refuses_in_words_and_leaves_the_state_as_the_log_has_it(service: Service, clock: SetClock) -> None:
    run = small_run(service)
    clock.at_s = 60
    taken = _fill(service, run)
    with pytest.raises(StoreFull, match="Make room"):
        service.order(run, AddNote("y" * 2_000), sender()).result()
    live = service.run(run)
    stored = service.store.read(lambda conn: journal.read(conn, run))
    assert len(stored) == len(live.log) == 1 + taken
    assert live.state == fold(stored)
    assert service.situation(run).at_s == 60


def test_it_works_again_without_a_restart_when_there_is_room(service: Service) -> None:
    run, key = small_run(service), new_key()
    taken = _fill(service, run)
    with pytest.raises(StoreFull):
        service.order(run, AddNote("z" * 2_000), sender(key)).result()
    service.store.write(_room).result()
    again = service.order(run, AddNote("z" * 2_000), sender(key)).result()
    assert (again.seq, again.repeated) == (2 + taken, False)
    assert service.order(run, MarkStep("rig/1"), sender()).result().seq == 3 + taken
    assert "rig/1" in service.run(run).state.done


def test_a_batch_that_is_lost_with_one_job_tells_every_job_of_it(service: Service) -> None:
    """The marks were decided on a state that never came to be; the next one is decided on the log."""
    run = small_run(service)
    _fill(service, run)
    before = service.run(run).state
    sent = [service.order(run, AddNote(f"{number} " + "w" * 1_990), sender()) for number in range(30)]
    failed = [each for each in sent if isinstance(each.exception(), StoreFull)]
    assert failed
    service.store.write(_room).result()
    stored = service.store.read(lambda conn: journal.read(conn, run))
    assert len(stored) == before.seq + len(sent) - len(failed)
    assert service.run(run).state == fold(stored)
    assert service.order(run, MarkStep("rig/1"), sender()).result().seq == len(stored) + 1
