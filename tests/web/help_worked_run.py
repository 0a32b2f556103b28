"""Works the examples of the numbers of a run out by the core, from the example's procedure and marks."""

from functools import cache

from app.core.commands import MarkStep
from app.core.commands_live import TakeReading
from app.core.events import RunStarted
from app.core.procedure import Procedure
from app.core.rounds import near_s, round_states
from app.core.situation import Situation
from app.core.supplies import line
from app.core.times import clock, duration, lead_words, read_clock
from app.core.turn_back import turn_back
from app.reading.procedure_reader import read_procedure
from app.web.help_example import NOW, PROCEDURE, READINGS, SLOW
from tests.core.running import Run, logged

Given = tuple[tuple[str, str], ...]
Worked = tuple[Given, str]
"""What an example starts from, and what comes out."""


@cache
def procedure() -> Procedure:
    read = read_procedure(PROCEDURE).procedure
    assert read is not None
    return read


def begun(of: Procedure) -> Run:
    made = Run(of)
    made.log[0] = logged(1, 0, RunStarted("0" * 64, "rehearsal", "2031-05-04T07:00:00.000Z"))
    return made


@cache
def run(marks: tuple[tuple[str, str], ...], readings: bool = False) -> Situation:
    made = begun(procedure())
    orders: list[tuple[int, MarkStep | TakeReading]] = [(read_clock(at), MarkStep(step)) for step, at in marks]
    if readings:
        orders += [(read_clock(at), TakeReading("battery", "EV1", value)) for at, value in READINGS]
    for at_s, order in sorted(orders, key=lambda each: each[0]):
        made.order(order, at_s)
    return made.at(read_clock(NOW))


def seconds(text: str) -> int:
    """Of a duration as the example writes it."""
    return sum(int(part[:-1]) * {"h": 3600, "m": 60, "s": 1}[part[-1]] for part in text.split())


def _finish(situation: Situation, step: str) -> int:
    return situation.projection.times(situation.network.index[step])[1]


def _planned(situation: Situation, step: str) -> int:
    return situation.plan.times(situation.network.index[step])[1]


def limit_s() -> int:
    limit_s = procedure().limits.finish_s
    assert limit_s is not None
    return limit_s


def lead() -> Worked:
    it = run(SLOW)
    return (
        (("plan finish", clock(it.plan.end_s)), ("projected finish", clock(it.projection.end_s))),
        lead_words(it.lead_s, procedure().on_plan_within_s),
    )


def person() -> Worked:
    it = run(SLOW)
    view = it.person("EV1")
    assert view.next == "lamp/2"
    given = (
        ("EV1's next step", "Put the new lamp in"),
        ("planned to finish", clock(_planned(it, view.next))),
        ("projected to finish", clock(_finish(it, view.next))),
    )
    return given, lead_words(view.lead_s, procedure().on_plan_within_s)


def within() -> Worked:
    within_s = procedure().on_plan_within_s
    return (
        (("on_plan_within of the procedure", duration(within_s)), ("plan less projection", "25s")),
        lead_words(25, within_s),
    )


def finish() -> Worked:
    it = run(SLOW)
    at_s = it.projection.times(it.network.index["lamp/2"])[0]
    steps = ("lamp/2", "wipe/1", "test/1", "home/1")
    takes = " + ".join(duration(it.network.takes_s[it.network.index[step]]) for step in steps)
    given = (("Take the old lamp out, marked", clock(at_s)), ("what waits for it, one after another", takes))
    assert it.projection.end_s == at_s + sum(it.network.takes_s[it.network.index[step]] for step in steps)
    return given, clock(it.projection.end_s)


def timer() -> Worked:
    it = run(SLOW)
    number = it.network.index["lamp/2"]
    start_s = it.projection.times(number)[0]
    given = (("elapsed", clock(it.at_s)), ("under way since", clock(start_s)))
    return given, f"{duration(it.at_s - start_s)} of {duration(it.network.takes_s[number])}"


def room() -> Worked:
    it = run(SLOW)
    assert it.limit is not None
    assert it.room_s is not None
    given = (("limit", clock(it.limit.at_s)), ("projected finish", clock(it.projection.end_s)))
    return given, duration(it.room_s)


def back() -> Worked:
    found = turn_back(run(SLOW))
    assert found is not None
    assert found.by_s is not None
    takes = run(SLOW).network.takes_s[run(SLOW).network.index["home/1"]]
    return (("limit", clock(found.limit_s)), ("Go home takes", duration(takes))), clock(found.by_s)


def floated() -> Worked:
    it = run(SLOW)
    view = it.person("EV2")
    assert view.next == "paint/1"
    assert view.float_s is not None
    late_s = it.late.start_s[it.network.index["paint/1"]]
    assert late_s is not None
    start_s = it.projection.times(it.network.index["paint/1"])[0]
    given = (
        ("EV2's next step", "Paint it"),
        ("projected to start", clock(start_s)),
        ("latest start that does not move the finish", clock(late_s)),
    )
    assert view.float_s == late_s - start_s
    return given, duration(view.float_s)


def plan_float() -> Worked:
    it = run(SLOW)
    number = it.network.index["paint/1"]
    start_s, late_s = it.plan.times(number)[0], it.prepared.late.start_s[number]
    assert late_s is not None
    given = (
        ("Paint it, planned to start", clock(start_s)),
        ("latest start", clock(late_s)),
        ("done at the latest", clock(it.prepared.late.finish_s[number] or 0)),
    )
    return given, duration(late_s - start_s)


def rate() -> Worked:
    found = line([read_clock(at) for at, _ in READINGS], [value for _, value in READINGS])
    assert found is not None
    given = tuple((f"called at {clock(read_clock(at))}", f"{value:g} %") for at, value in READINGS)
    return given, f"falls {-found.slope * 3600:.3g} % an hour"


def reserve() -> Worked:
    gauge = run(SLOW, True).gauges[0]
    assert gauge.left.until_s is not None
    last, (at, value) = rate()[1], READINGS[-1]
    given = (("the line", last), ("last reading", f"{value:g} % at {clock(read_clock(at))}"), ("reserve", "20 %"))
    return given, clock(int(gauge.left.until_s))


def limit() -> Worked:
    it = run(SLOW, True)
    assert it.limit is not None
    given = (("limit of the procedure", clock(limit_s())), ("EV1's battery is at its reserve", reserve()[1]))
    return given, f"{clock(it.limit.at_s)}, {it.limit.words.removeprefix('limit, ')}"


def due() -> Worked:
    it = run(SLOW)
    found = round_states(it)[0]
    given = (
        ("last answer, or zero", "00:00:00"),
        ("every", duration(found.round.every_s)),
        ("elapsed", clock(it.at_s)),
        ("overdue from", f"{duration(near_s(found.round))} after it is due"),
    )
    return given, f"{found.phase.value} since {clock(found.due_s + near_s(found.round))}"
