"""Works the examples of what is ahead and of past runs out by the core, from the example's procedure and marks."""

from functools import cache

from app.core import best_set as sets
from app.core.as_run import as_run
from app.core.chain import chain
from app.core.choices import offer
from app.core.debrief_times import person_times
from app.core.draws import points
from app.core.durations import HIGH, LOW, StepDurations, Told
from app.core.forecast import Draws, forecast
from app.core.outlook import option_chance
from app.core.proposing import proposal
from app.core.putting_off import options
from app.core.sample import sample
from app.core.times import clock, duration, lead_words
from app.service.far import draw
from app.web.help_example import QUICK, RUNS, SLOW
from tests.web.help_worked_run import Worked, limit_s, procedure, run, seconds


@cache
def drawn() -> Draws:
    return draw(run(SLOW))


def chance() -> Worked:
    draws = drawn()
    found = forecast(draws)
    assert found is not None
    assert found.team.chance is not None
    given = (
        ("draws", f"{found.draws:,}"),
        ("limit", clock(limit_s())),
        ("projected finish", clock(run(SLOW).projection.end_s)),
    )
    return given, f"{found.team.chance} %"


def spread() -> Worked:
    found = forecast(drawn())
    assert found is not None
    given = (("draws", f"{found.draws:,}"), ("plan finish", clock(run(SLOW).plan.end_s)))
    return given, f"half by {clock(found.team.half_s)}, nine in ten by {clock(found.team.nine_tenths_s)}"


def gain() -> Worked:
    it = run(SLOW)
    links = chain(it)
    first = links[0]
    assert it.id(first.step) == "lamp/2"
    given = (
        ("first step of the chain", "Put the new lamp in"),
        ("it ends at", clock(first.finish_s)),
        ("finish", clock(it.projection.end_s)),
        ("finish if it were over at once", clock(it.projection.end_s - first.gain_s)),
    )
    return given, duration(first.gain_s)


def wins() -> Worked:
    it, option = run(SLOW), next(each for each in options(run(SLOW)).options if each.tasks == ("wipe",))
    given = (
        ("put off", "Wipe the glass"),
        ("finish as it stands", clock(it.projection.end_s)),
        ("finish without it", clock(option.finish_s)),
    )
    return given, duration(option.wins_s)


def worth() -> Worked:
    both = sum(procedure().task(task).worth for task in ("wipe", "paint"))
    given = (("Wipe the glass, worth", "2"), ("Paint the foot, worth", "3"), ("put off", "both"))
    return given, str(both)


def saved() -> Worked:
    option = next(each for each in options(run(SLOW)).options if each.tasks == ("wipe",))
    chance = option_chance(drawn(), option)
    found = forecast(drawn())
    assert found is not None
    given = (("chance as it stands", f"{found.team.chance} %"), ("put off", "Wipe the glass"))
    return given, f"{chance} %"


def after() -> Worked:
    it = run(QUICK)
    found = offer(it, procedure().task("coil"))
    assert found.eligible
    assert found.finish_after_s is not None
    assert found.lead_after_s is not None
    given = (
        ("team lead now", lead_words(it.lead_s, procedure().on_plan_within_s)),
        ("item", f"Coil the old cable, {duration(found.takes_s)}, for EV2"),
        ("finish with it at its best place", clock(found.finish_after_s)),
    )
    return given, lead_words(found.lead_after_s, procedure().on_plan_within_s)


def best() -> Worked:
    found = sets.best_set(run(QUICK))
    assert found is not None
    names = " and ".join(procedure().task(task).title for task, _ in found.work)
    given = (
        ("items that fit alone", "Coil the old cable, Rake the path"),
        ("get-ahead work in all", duration(found.extra_s)),
    )
    return given, f"{names}; then the team is {lead_words(found.lead_after_s, procedure().on_plan_within_s)}"


def mean() -> Worked:
    found = points(procedure().step("lamp/1").takes, procedure().spread)
    low, likely, high = (duration(round(each)) for each in (found.low_s, found.likely_s, found.high_s))
    return (("optimistic", low), ("likely", likely), ("pessimistic", high)), duration(round(found.mean_s))


def median() -> Worked:
    found = sample([seconds(each) for each in RUNS])
    assert found is not None
    return (("five runs took", ", ".join(RUNS)),), duration(round(found.median))


def between() -> Worked:
    found = sample([seconds(each) for each in RUNS])
    assert found is not None
    return (
        (("five runs took", ", ".join(RUNS)),),
        f"{duration(round(found.quantile(LOW)))} to {duration(round(found.quantile(HIGH)))}",
    )


def proposed() -> Worked:
    step = procedure().step("lamp/1")
    told = tuple(Told(number, seconds(each)) for number, each in enumerate(RUNS, start=1))
    found = proposal(StepDurations(step, told), procedure().spread)
    takes = found.takes
    assert takes.optimistic_s is not None
    assert takes.pessimistic_s is not None
    given = (
        ("plan", mean()[0][0][1] + ", " + mean()[0][1][1] + ", " + mean()[0][2][1]),
        ("median of five runs", median()[1]),
        ("the runs weigh", f"{round(100 * found.weight)} %"),
    )
    return given, ", ".join(duration(each) for each in (takes.optimistic_s, takes.likely_s, takes.pessimistic_s))


def worked_s() -> Worked:
    it = run(SLOW)
    row = person_times(it, as_run(it))[1]
    given = (
        ("EV2's first start", clock(row.start_s or 0)),
        ("now, a step still on", clock(row.finish_s or 0)),
        ("waited", duration(row.waited_s)),
    )
    return given, duration(row.worked_s)


def shift() -> Worked:
    it = run(SLOW)
    row = next(each for each in as_run(it) if each.id == "lamp/1")
    assert row.finish_shift_s is not None
    given = (("planned to finish", clock(row.plan_finish_s or 0)), ("done", clock(row.finish_s or 0)))
    return given, f"{duration(row.finish_shift_s)} later"
