"""What the demo shows stays on its screens while somebody looks around, though nobody marks anything."""

from pathlib import Path

import pytest

from app.core.choices import offers
from app.core.rounds import RoundPhase, round_states
from app.core.situation import Situation
from app.demo import SHOWN_S, build
from app.service.runs import Service
from app.settings import HOME, Settings
from app.store.store import Store


@pytest.mark.parametrize("later_s", [0, 300, 600, 900])
def test_the_demo_shows_what_it_should_for_a_quarter_of_an_hour(tmp_path: Path, later_s: int) -> None:
    settings = Settings(tmp_path / "data", HOME / "procedures")
    run = build(settings)
    with Store(settings.data, settings.migrations, "test") as store:
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
