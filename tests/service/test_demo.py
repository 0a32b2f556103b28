"""What the demo shows stays on its screens while somebody looks around; finished rehearsals say what they are."""

from pathlib import Path

import pytest

from app.core.choices import offers
from app.core.events import NoteAdded, RunEnded
from app.core.events_rehearsal import PlayersSet
from app.core.rounds import RoundPhase, round_states
from app.core.situation import Situation
from app.demo import SEEDS, SHOWN_S, TROUBLES, build, keep_finished
from app.service.runs import Service
from app.settings import HOME, Settings
from app.store.sqlite_store import SqliteStore
from app.store.verifying import verify


@pytest.mark.parametrize("later_s", [0, 300, 600, 900])
def test_the_demo_shows_what_it_should_for_a_quarter_of_an_hour(tmp_path: Path, later_s: int) -> None:
    settings = Settings(tmp_path / "data", HOME / "procedures")
    run = build(settings)
    with SqliteStore(settings.data, settings.migrations, "test") as store:
        live = Service(store).run(run)
        there = Situation(live.prepared, live.state, SHOWN_S + later_s)
    leads = {view.designator: view.lead_s for view in there.crew}
    assert leads["EV1"] < -60, "a person behind"
    assert leads["ARM"] > 60, "a person ahead"
    assert there.at_hold("ARM") == "bring-spare/2"
    assert [offer.task for offer in offers(there) if offer.eligible] == ["check-clips"]
    assert there.limit is not None
    assert there.limit.by == "EV1 battery at reserve"
    assert there.procedure.limits.finish_s is not None
    assert 0 < there.procedure.limits.finish_s - there.limit.at_s < 900, "a little before the limit of the file"
    near = [state for state in round_states(there) if state.phase is not RoundPhase.LATER]
    assert ("gloves-and-suit", "EV1") in [(state.round.name, state.person) for state in near]


def test_the_demo_has_finished_rehearsals_that_say_that_nobody_did_them(tmp_path: Path) -> None:
    settings = Settings(tmp_path / "data", HOME / "procedures")
    shown = build(settings)
    with SqliteStore(settings.data, settings.migrations, "test") as store:
        finished = keep_finished(store)
        service = Service(store)
        assert shown == 1, "the shown one keeps its number"
        assert finished == tuple(range(2, 2 + len(SEEDS)))
        ends = []
        for run, seed in zip(finished, SEEDS, strict=True):
            live = service.run(run)
            assert live.stored.kind == "rehearsal"
            assert live.log[1].event == NoteAdded(f"Simulated from seed {seed}: nobody did this.")
            assert isinstance(live.log[2].event, PlayersSet)
            assert live.log[2].event.who == ("EV1", "EV2", "ARM", "GROUND")
            assert all("imulated" in each.by for each in live.log if each.at_s > 0)
            assert isinstance(live.log[-1].event, RunEnded)
            assert live.state.rehearsal.set == TROUBLES
            assert store.read(lambda conn, run=run: verify(conn, run)).fault is None  # type: ignore[misc]
            ends.append(live.now_s())
        assert len(set(ends)) == len(SEEDS), "each is another run"
        days = [service.run(run).stored.zero_utc for run in (*finished, shown)]
        assert days == sorted(days), "they were before the one that is shown"
