"""What is watched beside the steps, as programs read it."""

from typing import Any

import pytest

from tests.service.making import SAMPLES
from tests.web.site import Site


@pytest.fixture
def run(site: Site) -> int:
    return site.start((SAMPLES / "pump-changeout.yaml").read_bytes())


def watched(site: Site, run: int, at: str = "") -> Any:
    return site.json(f"/api/runs/{run}/watch{f'?at={at}' if at else ''}")


def order(site: Site, run: int, **fields: Any) -> Any:
    answer = site.post(f"/api/runs/{run}/orders", json=fields)
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_a_new_run_has_nothing_entered_and_all_rounds_to_come(site: Site, run: int) -> None:
    found = watched(site, run)
    assert [found[name] for name in ("called", "counts", "polls", "flags")] == [[], {}, [], []]
    assert [(each["person"], each["due_s"], each["phase"]) for each in found["rounds"]] == [
        ("EV1", 3600, "later"),
        ("EV2", 3600, "later"),
    ]
    assert {each["how"] for each in found["tools"]} == {None}
    assert [each["why_not"] for each in found["supplies"]] == ["no reading yet"] * 2
    assert [each["step"] for each in found["holds"]] == ["bring-spare/2", "bring-spare/3"]
    assert not any(each["reached"] for each in found["holds"])


def test_readings_come_with_their_rate_and_the_limit_names_the_supply(site: Site, run: int) -> None:
    site.clock.at_s = 1800
    order(site, run, do="reading", supply="battery", person="EV1", value=90)
    site.clock.at_s = 3600
    order(site, run, do="reading", supply="battery", person="EV1", value=75.0)
    gauge = watched(site, run)["supplies"][0]
    assert (gauge["person"], gauge["rate_per_hour"], gauge["reserve_at_s"]) == ("EV1", -30, 3600 + 63 * 120)
    situation = site.json(f"/api/runs/{run}")
    assert (situation["limit_s"], situation["limit_by"]) == (11_160, "EV1 battery at reserve")
    assert situation["room_s"] == 11_160 - situation["projected_finish_s"]


def test_a_bad_round_is_a_flag_until_it_is_cleared(site: Site, run: int) -> None:
    site.clock.at_s = 3700
    bad = order(site, run, do="round-bad", round="gloves-and-suit", person="EV1", reason="A cut")
    found = watched(site, run)
    assert [(each["flag"], each["text"], each["round"]) for each in found["flags"]] == [
        (bad["seq"], "A cut", "gloves-and-suit")
    ]
    assert found["rounds"][-1]["due_s"] == 3700 + 3600
    order(site, run, do="clear-flag", flag=bad["seq"], reason="Taped")
    assert watched(site, run)["flags"] == []


def test_a_poll_tools_and_counts_are_there(site: Site, run: int) -> None:
    order(site, run, do="poll", text="Go for power?", who=["EV1", "GROUND"])
    order(site, run, do="poll-go", poll="poll-1", person="EV1", heard=True)
    order(site, run, do="tool", tool="camera", how="taken", person="EV2")
    found = watched(site, run)
    assert found["polls"][0]["missing"] == ["GROUND"]
    assert found["polls"][0]["answers"][0] | {"at_s": 0} == {
        "person": "EV1", "go": True, "at_s": 0, "reason": "", "by": "API", "heard": True,
    }  # fmt: skip
    assert [each["person"] for each in found["tools"] if each["tool"] == "camera"] == ["EV2"]
