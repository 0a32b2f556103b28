"""Rounds, gauges and tools in the debrief: what was late, what was lowest, what is not back."""

from dataclasses import replace

from app.core.commands_live import AnswerRound, MoveTool, StrikeEntry, TakeReading
from app.core.debrief import debrief
from app.core.procedure import Round, Supply
from tests.core.building import procedure, task
from tests.core.running import Run

MADE = replace(
    procedure(task("a", [4000], who="EV1"), crew=("EV1", "EV2")),
    rounds=(Round("gloves", "Cuts?", ("EV1", "EV2"), 600),),
    supplies=(Supply("battery", ("EV1",), "%", 10.0),),
    tools=("saw", "file", "lamp", "rope", "tape"),
)


def test_a_round_says_when_each_was_due_and_made_and_what_was_missed() -> None:
    run = Run(MADE)
    run.order(AnswerRound("gloves", "EV1", True, "", ()), 500)
    run.order(AnswerRound("gloves", "EV1", False, "a cut", ()), 1300)
    ev1, ev2 = debrief(run.prepared, run.log, 1800).rounds
    assert [(made.due_s, made.at_s, made.late_s, made.good) for made in ev1.made] == [
        (600, 500, -100, True),
        (1100, 1300, 200, False),
    ]
    assert (ev1.latest_s, ev1.overdue, ev1.due_s, ev1.missed_s) == (200, 1, 1900, None)
    assert (ev2.made, ev2.latest_s, ev2.overdue, ev2.due_s, ev2.missed_s) == ((), 1200, 1, 600, 1200)


def test_a_gauge_says_its_lowest_and_when_the_reserve_would_be_reached() -> None:
    run = Run(MADE)
    for at_s, value in ((0, 100.0), (1000, 60.0), (2000, 20.0)):
        run.order(TakeReading("battery", "EV1", value), at_s)
    (gauge,) = debrief(run.prepared, run.log, 2100).gauges
    assert (gauge.lowest and gauge.lowest.value, gauge.until_s, gauge.left_s) == (20.0, 2250, 150)
    run.order(StrikeEntry(gauge.readings[-1].seq, "misread"), 2100)
    (struck,) = debrief(run.prepared, run.log, 2100).gauges
    assert struck.lowest is not None
    assert struck.lowest.value == 60.0
    run.order(TakeReading("battery", "EV1", 95.0, anew=True), 2200)
    (fresh,) = debrief(run.prepared, run.log, 2200).gauges
    assert (len(fresh.readings), fresh.lowest and fresh.lowest.value) == (3, 60.0)
    assert (fresh.until_s, fresh.why_not) == (None, "one reading is no rate")


def test_tools_that_are_not_accounted_for_come_first() -> None:
    run = Run(MADE)
    for at_s, tool in enumerate(("saw", "file", "lamp", "rope"), start=1):
        run.order(MoveTool(tool, "taken", "EV1"), at_s)
    run.order(MoveTool("file", "lost", None, "", "drifted off"), 10)
    run.order(MoveTool("lamp", "stowed", "EV1"), 11)
    run.order(MoveTool("rope", "left outside", None, "bay 4", "frozen"), 12)
    found = debrief(run.prepared, run.log, 20).tools
    assert [(each.tool, each.fate, len(each.moves)) for each in found] == [
        ("file", "lost", 2),
        ("saw", "out", 1),
        ("rope", "left outside", 2),
        ("lamp", "stowed", 2),
        ("tape", "no record", 0),
    ]
    assert found[0].words == "LOST 00:00:10, EV1 had it: drifted off"
