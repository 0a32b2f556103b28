"""A procedure with rounds, gauges, tools and a limit, for the tests of what is watched beside the steps."""

from dataclasses import replace

from app.core.procedure import Limits, Procedure, Round, Supply
from tests.core.building import procedure, task

GLOVES = Round("gloves", "Any damage?", ("EV1", "EV2"), 3600)
SKY = Round("sky", "Cloud base?", (), 600)
BATTERY = Supply("battery", ("EV1", "EV2"), "%", 12.0)
GAS = Supply("gas", (), "bar", 30.0)

STATION: Procedure = replace(
    procedure(
        task("work", [3600, 3600], who="EV1"),
        task("home", [600], who=("EV1", "EV2"), after=["work"]),
        crew=("EV1", "EV2", "GROUND"),
    ),
    rounds=(GLOVES, SKY),
    supplies=(BATTERY, GAS),
    tools=("saw", "file"),
    limits=Limits(4 * 3600, "home"),
)
"""Plan finish 2:10:00, limit 4:00:00, close-out takes 10 min."""
