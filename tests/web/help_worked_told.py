"""Works the examples of a plan, of a debrief and of runs beside each other out by the core, from the example's run."""

from functools import cache

from app.core.as_run import as_run
from app.core.commands import GiveGo, MarkStep, PutOff
from app.core.compare import spread
from app.core.debrief import Debrief, debrief
from app.core.durations import StepDurations, Told
from app.core.forecast import forecast
from app.core.procedure import Procedure
from app.core.proposing import proposal
from app.core.times import clock, duration, lead_words, read_clock
from app.reading.procedure_reader import read_procedure
from app.service.far import draw
from app.web.help_example import NOW, PROCEDURE, RUNS, SLOW
from tests.core.running import Run
from tests.web.help_worked_run import Worked, begun, procedure, run, seconds

NOW_S = read_clock(NOW)


def changed(*changes: tuple[str, str]) -> Procedure:
    """The example's procedure, had it something that it does not have."""
    text = PROCEDURE
    for old, new in changes:
        assert text.count(old) == 1
        text = text.replace(old, new)
    read = read_procedure(text).procedure
    assert read is not None
    return read


def marked(of: Procedure) -> Run:
    made = begun(of)
    for step, at in SLOW:
        made.order(MarkStep(step), read_clock(at))
    return made


@cache
def told() -> Debrief:
    """The run in which the lamp came out late, and wiping the glass was put off for it."""
    made = marked(procedure())
    made.order(PutOff("wipe", "late"), NOW_S)
    return debrief(made.prepared, made.log, NOW_S)


def plan_finish() -> Worked:
    it = run(SLOW)
    takes = [
        [duration(it.network.takes_s[it.network.index[step]]) for step in steps]
        for steps in (("out/1", "lamp/1", "lamp/2"), ("wipe/1", "test/1", "home/1"))
    ]
    given = (
        ("Go out, Take the old lamp out, Put the new lamp in", " + ".join(takes[0])),
        ("Wipe the glass, Test the lamp, Go home", " + ".join(takes[1])),
    )
    return given, clock(it.plan.end_s)


def window_chance() -> Worked:
    it = marked(
        changed(
            ("{do: Paint it, takes: 12 min}", "{do: Paint it, takes: 12 min, within: dry}"),
            ("tasks:\n", "windows: {dry: [[0:15, 0:36]]}\ntasks:\n"),
        )
    ).at(NOW_S)
    found = forecast(draw(it))
    assert found is not None
    (window,) = found.windows
    starts_s, ends_s = it.projection.times(it.network.index["paint/1"])
    given = (
        ("draws", f"{found.draws:,}"),
        ("were Paint it within a window", f"{clock(window.opens_s)} to {clock(window.closes_s)}"),
        ("projected", f"{clock(starts_s)} to {clock(ends_s)}"),
    )
    return given, f"{window.chance} %"


def _both() -> tuple[tuple[str, str], ...]:
    late = next(each for each in told().steps if each.id == "lamp/1").finish_shift_s
    assert late is not None
    (decision,) = told().decisions
    return (
        ("lamp out later by", duration(late)),
        (f"put off at {clock(decision.at_s)}", procedure().task("wipe").title),
    )


def won_lost() -> Worked:
    changes = [move.lead_s for move in told().lead.team]
    won_s, lost_s = sum(each for each in changes if each > 0), -sum(each for each in changes if each < 0)
    assert won_s - lost_s == told().at_end.lead_s
    return _both(), f"{duration(won_s)}, {duration(lost_s)}"


def change() -> Worked:
    move = next(each for each in told().lead.team if each.step == "lamp/1")
    row = next(each for each in told().steps if each.id == "lamp/1")
    leads = {point.at_s: point.team_s for point in told().points}
    assert leads[move.to_s] - leads[move.from_s] == move.lead_s
    given = (
        ("planned to be done", clock(row.plan_finish_s or 0)),
        ("marked", clock(row.finish_s or 0)),
        (f"lead at {clock(move.from_s)}", duration(leads[move.from_s])),
        (f"lead at {clock(move.to_s)}", lead_words(leads[move.to_s])),
    )
    return given, f"{duration(move.lead_s)} lost, {clock(move.from_s)} to {clock(move.to_s)}"


def moved() -> Worked:
    (decision,) = told().decisions
    before, after = decision.before, decision.after
    assert before.room_s is not None
    assert after.room_s is not None
    given = (
        ("order", "put off Wipe the glass"),
        ("team then", lead_words(before.lead_s)),
        ("finish then", clock(before.finish_s)),
        ("room then", duration(before.room_s)),
    )
    won = f"{duration(after.lead_s - before.lead_s)} won: {lead_words(after.lead_s)}"
    return given, f"{won}, finish {clock(after.finish_s)}, room {duration(after.room_s)}"


def most_least() -> Worked:
    points = told().points
    most, least = max(points, key=lambda each: each.team_s), min(points, key=lambda each: each.team_s)
    words = [f"{lead_words(each.team_s)}, {clock(each.at_s)}" for each in (most, least)]
    return _both(), f"most {words[0]}; least {words[1]}"


def least_median_most() -> Worked:
    took = RUNS[:2]
    found = spread(seconds(each) for each in took)
    assert found is not None
    minutes, left = divmod(found.median_s, 60)
    given = (("two runs took", ", ".join(took)), ("mean of the two", f"{minutes:.0f}m {left:g}s"))
    return given, ", ".join(duration(each) for each in (found.least_s, round(found.median_s), found.most_s))


def to_plan() -> Worked:
    step = procedure().step("lamp/1")
    found = StepDurations(step, tuple(Told(number, seconds(each)) for number, each in enumerate(RUNS, start=1)))
    proposed = proposal(found, procedure().spread)
    assert found.sample is not None
    assert found.ratio is not None
    assert proposed.planned_median_s is not None
    points = (step.takes.optimistic_s, step.takes.likely_s, step.takes.pessimistic_s)
    given = (
        ("median of five runs", duration(round(found.sample.median))),
        ("likely", duration(step.takes.likely_s)),
        (
            f"median of {', '.join(duration(each) for each in points if each is not None)}",
            duration(round(proposed.planned_median_s)),
        ),
    )
    return given, f"{found.ratio:.2f} to likely, {proposed.ratio:.2f} to median"


def took() -> Worked:
    row = next(each for each in as_run(run(SLOW)) if each.id == "lamp/1")
    assert row.took_s is not None
    assert not row.start_known
    given = (
        ("began *", clock(row.start_s or 0)),
        ("done", clock(row.finish_s or 0)),
        ("likely", duration(row.takes_s)),
    )
    return given, duration(row.took_s)


def work_by_plan() -> Worked:
    it = run(SLOW)
    row = next(each for each in told().people if each.designator == "EV2")
    own = [step for step in it.network.lists[it.network.crew.index("EV2")] if it.network.nominal[step]]
    return (("EV2's steps", " + ".join(duration(it.network.takes_s[step]) for step in own)),), duration(row.plan_work_s)


def hold_waited() -> Worked:
    made = begun(changed(("{do: Lay it, takes: 12 min}", "{do: Lay it, takes: 12 min, hold: {go: [EV1]}}")))
    made.order(MarkStep("out/1"), read_clock("0:10:00"))
    made.order(GiveGo("cable/1", "EV1"), read_clock("0:20:00"))
    made.order(MarkStep("cable/1"), read_clock("0:22:00"))
    (hold,) = debrief(made.prepared, made.log, NOW_S).holds
    (wait,) = hold.waits
    given = (
        ("were Lay it a hold for EV1's go, reached", clock(hold.reached_s)),
        ("EV1 go", clock(wait.go_s or 0)),
    )
    return given, duration(hold.waited_s)
