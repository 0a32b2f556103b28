"""The sample outing from hatch open to hatch shut, by two stations, with all that goes wrong on a real one."""

from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from app.core.times import read_clock
from app.reading.procedure_reader import read_procedure
from app.store.verifying import verify
from app.web.depends import NAME_COOKIE, name_cookie
from app.web.guard import STATION_COOKIE
from tests.service.making import SAMPLES
from tests.web.site import STATION, Site, words


class Outing:
    """One run of the sample. `desk` signs at the Desk: ground support, then her relief. The lead is Noor."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self.run = site.start((SAMPLES / "pump-changeout.yaml").read_bytes())
        self.desk = "Ines"

    def at(self, clock: str) -> None:
        self.site.clock.at_s = read_clock(clock)

    def sent(self, do: str, by: str = "", page: str = "desk", **fields: str) -> httpx.Response:
        form = {"do": do, "page": page, **{name.replace("__", ":"): text for name, text in fields.items()}}
        signed = {"Cookie": f"{STATION_COOKIE}={STATION}; {NAME_COOKIE}={name_cookie(by or self.desk)}"}
        return self.site.post(f"/runs/{self.run}/orders", data=form, headers=signed)

    def order(self, do: str, by: str = "", page: str = "desk", **fields: str) -> None:
        answer = self.sent(do, by, page, **fields)
        assert answer.status_code == 303, words(answer.text)

    def refused(self, do: str, by: str = "", **fields: str) -> str:
        """The sentence of an order that must not be taken."""
        answer = self.sent(do, by, **fields)
        assert answer.status_code in {409, 422}, words(answer.text)
        return words(answer.text)

    def mark(self, clock: str, step: str, **values: str) -> None:
        self.at(clock)
        self.order("mark", step=step, **{f"value__{name}": text for name, text in values.items()})

    def page(self, name: str) -> str:
        return words(self.site.page(f"/runs/{self.run}/{name}"))

    def state(self, step: str) -> str:
        return self.site.states(self.run)[step]


@pytest.fixture
def outing(tmp_path: Path) -> Iterator[Outing]:
    with Site(tmp_path) as site:
        yield Outing(site)


def out_and_valves(run: Outing) -> None:
    """To the loop isolated: a warning first, a value typed wrongly, one out of tolerance, a late call, a slip."""
    run.at("0:00:30")
    for tool, person in (("torque driver", "EV2"), ("line wrench", "EV1"), ("leak sniffer", "EV1"), ("camera", "EV2")):
        run.order("tool", tool=tool, how="taken", person=person)
    run.at("0:10:20")
    assert "acknowledged" in run.refused("mark", step="go-out/1")
    run.order("acknowledge", step="go-out/1", person="EV1", heard="1")
    run.order("acknowledge", step="go-out/1", person="EV2", page="list/EV2")
    run.mark("0:10:30", "go-out/1")
    run.mark("0:21:10", "go-out/2")
    run.mark("0:28:00", "unplug/1")
    run.mark("0:30:10", "shut-valves/1")
    run.mark("0:33:30", "unplug/2")
    run.at("0:34:40")
    assert "not “twelve”" in run.refused("mark", step="shut-valves/2", value__turns="twelve")
    assert "turns" in run.refused("mark", step="shut-valves/2")
    run.order("mark", step="shut-valves/2", value__turns="12")
    run.mark("0:38:50", "unplug/3")
    run.mark("0:39:30", "shut-valves/3", turns="14.5")
    assert run.state("shut-valves/3") == "under way"
    assert "OUT OF TOLERANCE" in run.page("desk")
    assert "OUT OF TOLERANCE" in run.page("lead")
    run.at("0:40:10")
    assert "reason" in run.refused("accept", "Noor", step="shut-valves/3").lower()
    run.order("accept", "Noor", "lead", step="shut-valves/3", reason="Ground feels it shut; the pressure holds")
    run.at("0:48:30")
    run.order("mark", step="isolate/1", at="-50s")
    run.mark("0:49:10", "isolate/2")
    run.mark("0:57:30", "unplug/4")


def pump_out_and_spare_in(run: Outing) -> None:
    """Eight screws counted by two stations, a round that is bad, gauges, a no-go, and the shift changes."""
    run.at("1:00:05")
    run.order("round-bad", round="gloves-and-suit", person="EV1", reason="A cut in the left glove", heard="1")
    run.order("round-good", round="gloves-and-suit", person="EV2", page="list/EV2", reading__battery="83")
    run.order("reading", supply="battery", person="EV1", value="81", heard="1")
    assert "A cut in the left glove" in run.page("lead")
    for number in range(1, 7):
        run.at(f"1:{number * 2 + 1:02}:00")
        run.order("count", step="free-old/1", number=str(number))
    assert "counted" in run.refused("count", "Noor", step="free-old/1", number="6")
    run.mark("1:17:30", "free-old/1")
    run.mark("1:22:30", "free-old/2")
    run.mark("1:30:00", "take-away/1")
    run.mark("1:44:00", "take-away/2")
    run.mark("1:55:30", "bring-spare/1")
    run.at("1:57:00")
    run.order("no-go", step="bring-spare/2", person="EV1", page="list/EV1", reason="The left rail is bent")
    run.order("go", step="bring-spare/2", person="EV2", heard="1")
    assert "EV1" in run.refused("mark", step="bring-spare/2")
    run.refused("go", step="bring-spare/2", person="EV1")
    run.order("hand-over", to="Mats", reason="EV1 is no-go at 80 cm; a flag on his glove is open")
    run.desk = "Mats"
    handed = run.page("handover")
    for each in ("The left rail is bent", "A cut in the left glove", "EV1 battery"):
        assert each in handed
    run.at("1:59:10")
    run.order(
        "go", step="bring-spare/2", person="EV1", page="list/EV1", reason="The rail is straight; a shadow fooled me"
    )
    run.mark("1:59:20", "bring-spare/2")
    run.at("2:03:00")
    for person in ("EV1", "EV2", "GROUND"):
        run.order("go", step="bring-spare/3", person=person, heard="1")
    run.order("mark", step="bring-spare/3", **{"value__gap left": "4", "value__gap right": "3"})
    run.mark("2:09:00", "bring-spare/4")
    run.at("2:10:00")
    run.order("clear-flag", "Noor", flag=str(flag_of(run)), reason="Taped; the doctor has looked at it by video")


def flag_of(run: Outing) -> int:
    found = [each["seq"] for each in run.site.json(f"/api/runs/{run.run}/events") if each["kind"] == "RoundAnswered"]
    assert found
    return int(found[0])


def fasten_and_prove(run: Outing) -> None:
    """A second person confirms, a poll, a mark whose time was wrong, a tool that is lost."""
    run.at("2:38:00")
    run.order("mark", step="fasten/1", value__turns="15")
    run.at("2:43:00")
    run.order("mark", step="fasten/2")
    assert run.state("fasten/2") == "under way"
    run.refused("confirm", step="fasten/2", person="GROUND")
    run.order("confirm", step="fasten/2", person="EV1", page="list/EV1")
    assert run.state("fasten/2") == "done"
    run.at("2:43:30")
    run.order("mark", step="plug/1", at="2:21:00")
    run.order("mark", step="plug/2", at="2:32:00")
    run.order("mark", step="plug/3", at="2:38:30")
    assert "plug/1" in run.refused("correct", step="plug/2", at="2:20:00", reason="misheard")
    run.order("correct", step="plug/3", at="2:40:10", reason="Ines had noted the wrong minute")
    run.at("2:45:00")
    run.order("poll", "Noor", "lead", text="Go for power?", who="EV1")
    run.at("2:46:00")
    run.order("poll-go", poll="poll-1", person="EV1", heard="1")
    run.order("acknowledge", step="plug/4", person="EV1", heard="1")
    run.mark("2:50:00", "plug/4")
    run.at("2:52:00")
    run.order("tool", tool="camera", how="lost", person="EV2", reason="Drifted off over bay 3")
    run.order("put-off", "Noor", "lead", task="photo-survey", reason="No camera")
    run.mark("3:03:00", "prove/1", **{"pressure drop": "1.2"})
    run.mark("3:07:00", "prove/2")
    run.mark("3:11:30", "watch/1")


def home(run: Outing) -> None:
    run.mark("3:22:00", "come-in/1")
    for tool in ("torque driver", "line wrench", "leak sniffer"):
        run.order("tool", tool=tool, how="stowed")
    run.mark("3:36:00", "come-in/2")
    run.mark("3:44:00", "come-in/3")
    assert "camera" in run.refused("end", reason="Hatch shut")
    run.order("tool", tool="camera", how="left outside", reason="Lost over bay 3; tracked by the ground")
    run.order("end", reason="Hatch shut")


def test_the_outing_runs_from_hatch_open_to_hatch_shut_and_the_log_tells_it_all(outing: Outing) -> None:
    out_and_valves(outing)
    pump_out_and_spare_in(outing)
    fasten_and_prove(outing)
    home(outing)
    told = outing.page("log")
    for sentence in TOLD:
        assert sentence in told, sentence
    found = outing.site.shell.service.store.read(lambda conn: verify(conn, outing.run))
    assert found.fault is None


TOLD = (
    "EV1 acknowledges the warning of “Leave the hatch; swap tethers; check each other” (go-out/1) (heard on the loop)",
    "EV2 acknowledges the warning of “Leave the hatch; swap tethers; check each other” (go-out/1)",
    "Called complete: “Shut valve V2” (shut-valves/3): turns 14.5 turn (OUT OF TOLERANCE)",
    "The lead accepts the values of “Shut valve V2” (shut-valves/3): Ground feels it shut; the pressure holds",
    "Round gloves-and-suit, EV1: BAD: A cut in the left glove (heard on the loop)",
    "Reading of battery, EV2: 83 %",
    "Done 6 of 8: “Loosen the eight frame screws” (free-old/1)",
    "Done 7 to 8 of 8: “Loosen the eight frame screws” (free-old/1)",
    "EV1 is NO-GO at “Stop at 80 cm. Is the pump square to the rails?” (bring-spare/2): The left rail is bent",
    "EV1 is go at “Stop at 80 cm. Is the pump square to the rails?” (bring-spare/2); "
    "lifts the no-go: The rail is straight; a shadow fooled me",
    "Shift handed over to Mats: EV1 is no-go at 80 cm; a flag on his glove is open",
    "cleared: Taped; the doctor has looked at it by video",
    "EV1 confirms “Torque check on screws 1 and 4” (fasten/2)",
    "Mark corrected: “Plug data D1” (plug/3), time 02:40:10, was 02:38:30. Ines had noted the wrong minute",
    "Poll called (poll-1): Go for power? Asked: EV1",
    "EV1 is go (poll-1) (heard on the loop)",
    "TOOL LOST: camera, EV2 had it: Drifted off over bay 3",
    "Put off: “Photo survey of bay 3”, “Swap the bay 3 lamp”. No camera",
    "Tool left outside for good: camera: Lost over bay 3; tracked by the ground",
    "The run ended: Hatch shut",
)


def test_what_the_outing_leaves_is_a_sound_file_for_the_next_one(outing: Outing) -> None:
    out_and_valves(outing)
    pump_out_and_spare_in(outing)
    fasten_and_prove(outing)
    home(outing)
    carried = outing.site.page(f"/runs/{outing.run}/carried.yaml")
    reading = read_procedure(carried)
    assert reading.procedure is not None, reading.faults
    assert [task.id for task in reading.procedure.tasks][:2] == ["photo-survey", "swap-lamp"]
    assert "No camera" in carried
