"""A procedure with all that stands between a call and a mark, for the tests of `completing` and of corrections."""

from dataclasses import replace

from app.core.procedure import Value
from tests.core.building import link, procedure, step, task

GAP, TURNS = Value("gap", "mm", 2, 6), Value("turns", "", 11, None)
HOT = replace(step(60, "Open the valve"), warning="Hot steam.")
READ = step(60, "Read both", record=(GAP, TURNS))
SEEN = replace(step(60, "Lock the pin"), confirm_by="EV2")
BOTH = replace(step(60, "Set the gap", record=(GAP,)), confirm_by="EV2")
SCREWS = replace(step(80, "Drive the screws"), count=4)
BOLTS = replace(step(80, "Drive the bolts", record=(GAP,)), count=3)

LIVE = procedure(
    task("hot", [HOT], who=("EV1", "EV2")),
    task("read", [READ], who="EV1"),
    task("seen", [SEEN], who="EV1"),
    task("both", [BOTH], who="EV1"),
    task("screws", [SCREWS], who="EV3", may_put_off=True),
    task("bolts", [BOLTS], who="EV3"),
    task("then", [60, replace(step(60), count=2)], who="ARM", after=[link("screws/1", 30)]),
    task("stop", [step(60, "Clear?", go=("EV1",), record=(GAP,))], who="ARM"),
    task("alone", [replace(step(60), warning="Nobody near.")]),
    crew=("EV1", "EV2", "EV3", "ARM"),
)
GOOD, BAD = (("gap", 4.0),), (("gap", 9.0),)
BOTH_GOOD = (("gap", 4.0), ("turns", 12.0))
