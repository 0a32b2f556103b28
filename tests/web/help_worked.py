"""Works the examples of the help out by the core. No test of its own.

``python -m tests.web.help_worked`` prints what comes out.
"""

from collections.abc import Callable, Mapping

from tests.web import help_worked_ahead as ahead
from tests.web import help_worked_run as of_run
from tests.web import help_worked_told as told
from tests.web.help_worked_run import Worked

WORKED: Mapping[str, Callable[[], Worked]] = {
    "lead": of_run.lead,
    "person-lead": of_run.person,
    "on-plan": of_run.within,
    "finish": of_run.finish,
    "timer": of_run.timer,
    "room": of_run.room,
    "turn-back": of_run.back,
    "float": of_run.floated,
    "plan-float": of_run.plan_float,
    "chance": ahead.chance,
    "spread": ahead.spread,
    "gain": ahead.gain,
    "wins": ahead.wins,
    "worth": ahead.worth,
    "put-off-chance": ahead.saved,
    "team-after": ahead.after,
    "best-together": ahead.best,
    "rate": of_run.rate,
    "reserve": of_run.reserve,
    "limit": of_run.limit,
    "due": of_run.due,
    "mean": ahead.mean,
    "median": ahead.median,
    "ten-to-ninety": ahead.between,
    "proposed": ahead.proposed,
    "worked": ahead.worked_s,
    "against-plan": ahead.shift,
    "plan-finish": told.plan_finish,
    "window-chance": told.window_chance,
    "won-lost": told.won_lost,
    "change": told.change,
    "moved": told.moved,
    "most-least": told.most_least,
    "least-median-most": told.least_median_most,
    "to-plan": told.to_plan,
    "took": told.took,
    "work-by-plan": told.work_by_plan,
    "hold-waited": told.hold_waited,
}
"""Each number by its slug, worked out."""


if __name__ == "__main__":
    for slug, work in WORKED.items():
        print(slug, work())
