"""The UTC of what happened in a rehearsal whose clock was ruled: by its rulings, and never after it was written."""

from datetime import timedelta
from pathlib import Path

from app.core.commands import AddNote
from app.core.commands_rehearsal import RuleClock
from app.core.heads import head_of
from app.service.runs import Service
from app.writing.run_record import RunRecord
from tests.service.making import BEGUN, SetClock, sender, small_run, store


def test_utc_goes_by_the_rulings_of_the_clock(tmp_path: Path) -> None:
    clock = SetClock()
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        run = small_run(service)
        for at_s, rate, to_s in ((100, 0, None), (400, 10, None), (430, None, 3600), (440, 1, None)):
            clock.at_s = at_s
            service.order(run, RuleClock(rate, to_s), sender()).result()
        clock.at_s = 500
        service.order(run, AddNote("last"), sender()).result()
        live = service.run(run)
        record = RunRecord(run, service.situation(run), live.log, live.stored.zero_utc, head_of(live.log))
        # Elapsed 0 to 100 at 1, stands until 400 s of the world, to 400 at 10, set over to 3600, on at 10, then at 1.
        expected = {50: 50, 100: 100, 200: 410, 400: 430, 2000: 430, 3600: 430, 3650: 435, 3700: 440, 3760: 500}
        for elapsed_s, world_s in expected.items():
            assert record.utc(elapsed_s) == BEGUN + timedelta(seconds=world_s), elapsed_s
        assert all(record.utc(each.at_s) <= each.logged_at for each in live.log)
