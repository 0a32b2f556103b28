"""What the command line prints of a run, in words. It reads reports and computes nothing."""

from collections.abc import Callable, Iterator
from typing import Any

from app.core.report import situation_report
from app.core.situation import Situation
from app.core.times import clock, duration, lead_words

Report = dict[str, Any]


def print_tried(report: Report, within: int) -> None:
    """A report of `foresight.tried_report`: the changes, then each figure as it stands and if so."""
    for change in report["changes"]:
        print(f"if {change['said']}: {change['would_log']}")
    print(f"{'':26}{'as it stands':34}if so")
    for what, now, then in _compared(report["present"], report["then"], within):
        print(f"{what:26}{now:34}{then}{'' if now != then else ' (same)'}")


def _compared(present: Report, then: Report, within: int) -> Iterator[tuple[str, str, str]]:
    rows: tuple[tuple[str, Callable[[Report], str]], ...] = (
        ("team", lambda side: lead_words(side["lead_s"], within)),
        ("finish", lambda side: clock(side["projected_finish_s"])),
        ("room", lambda side: "no limit" if side["room_s"] is None else _room(side["room_s"])),
        ("chance, half, nine in ten", lambda side: _forecast_words(side["forecast"])),
    )
    for what, words in rows:
        yield what, words(present), words(then)
    for person, row in present["crew"].items():
        yield person, lead_words(row["lead_s"], within), lead_words(then["crew"][person]["lead_s"], within)


def _room(room_s: int) -> str:
    return f"{duration(room_s)}{' PAST THE LIMIT' * (room_s < 0)}"


def _forecast_words(forecast: dict[str, Any] | None) -> str:
    if forecast is None:
        return "nothing left to do"
    team = forecast["team"]
    chance = "–" if team["chance"] is None else f"{team['chance']} %"
    return f"{chance}, {clock(team['half_by_s'])}, {clock(team['nine_in_ten_by_s'])}"


def print_situation(situation: Situation) -> None:
    report = situation_report(situation)
    within = situation.procedure.on_plan_within_s
    print(f"{situation.procedure.title} at {clock(report['at_s'])}: the team is {lead_words(report['lead_s'], within)}")
    finish, plan_finish = clock(report["projected_finish_s"]), clock(report["plan_finish_s"])
    room = "" if situation.room_s is None else f", room {_room(situation.room_s)}"
    print(f"finish {finish}, plan {plan_finish}{room}")
    for person, row in report["crew"].items():
        print(f"  {person:12} {lead_words(row['lead_s'], within):18} next {row['next'] or 'nothing'}")
    for row in report["get_ahead"]:
        if row["eligible"]:
            after = f"team {lead_words(row['lead_after_s'])} after, finish {clock(row['finish_after_s'])}"
            print(f"  may start: {row['task']} ({' and '.join(row['who'])}), {after}")
        else:
            print(f"  not now:   {row['task']} ({' and '.join(row['who'])}), {row['reason']}")
