"""The debrief's rows about work beside the plan, rounds, supplies and tools, in words. It computes nothing."""

from dataclasses import dataclass

from app.core.debrief_watch import GaugeTold, RoundTold, ToolTold
from app.core.debrief_work import WorkTold
from app.core.times import clock, duration


@dataclass(frozen=True, slots=True)
class WorkRow:
    title: str
    about: str
    kind: str
    fate: str
    times: str
    offered: str
    turns: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WatchRow:
    """Something that was watched: its name, what is to be known at once, and each entry in a line. `bad`: look here."""

    name: str
    about: str
    words: str
    bad: bool
    lines: tuple[str, ...]


def work_row(work: WorkTold) -> WorkRow:
    begun = "" if work.start_s is None else f"begun {clock(work.start_s)}"
    done = "" if work.finish_s is None else f"done {clock(work.finish_s)}"
    return WorkRow(
        title=work.title,
        about=f"{work.task} · {' and '.join(work.who) or 'nobody'}",
        kind="get-ahead" if work.get_ahead else "put off",
        fate=work.fate,
        times=", ".join(each for each in (begun, done) if each),
        offered=_offered(work),
        turns=tuple(f"{clock(turn.at_s)} {turn.words} ({turn.by})" for turn in work.turns),
    )


def _offered(work: WorkTold) -> str:
    """Only moments are looked at, so no more is said than what they show."""
    if not work.looked:
        return ""
    if not work.offered:
        return f"on offer at none of {work.looked} moments looked at"
    ends = clock(work.offered[0])
    if len(work.offered) > 1:
        ends = f"first {clock(work.offered[0])}, last {clock(work.offered[-1])}"
    return f"on offer at {len(work.offered)} of {work.looked} moments looked at: {ends}"


def round_row(one: RoundTold) -> WatchRow:
    times = f"made {len(one.made)} times" if len(one.made) != 1 else "made once"
    bad = sum(1 for made in one.made if not made.good)
    late = f"; {one.overdue} overdue, the latest by {duration(one.latest_s)}" if one.overdue else ""
    missed = "" if one.missed_s is None else f"; due since {clock(one.due_s)} at the end and not made"
    return WatchRow(
        name=f"{one.person} {one.round}".strip(),
        about=f"every {duration(one.every_s)}: {one.asks}",
        words=f"{times}{f'; {bad} answered BAD' if bad else ''}{late}{missed}",
        bad=bool(one.overdue or bad),
        lines=tuple(
            f"{clock(made.at_s)} {'good' if made.good else 'BAD'}{f': {made.answer}' if made.answer else ''}; "
            f"due {clock(made.due_s)}, {_late(made.late_s)} ({made.by})"
            for made in one.made
        ),
    )


def _late(late_s: int) -> str:
    return "on time" if late_s == 0 else f"{duration(late_s)} {'late' if late_s > 0 else 'early'}"


def gauge_row(gauge: GaugeTold) -> WatchRow:
    unit = f" {gauge.unit}" if gauge.unit else ""
    below = sum(1 for each in gauge.readings if each.value < gauge.reserve)
    lowest = "no reading" if gauge.lowest is None else f"lowest {gauge.lowest.value:g}{unit} {clock(gauge.lowest.at_s)}"
    if below:
        lowest += f", BELOW THE RESERVE{f', as {below} readings are' if below > 1 else ''}"
    if gauge.until_s is None or gauge.left_s is None:
        left = gauge.why_not if gauge.readings else ""
    elif gauge.left_s >= 0:
        by = "by the line through the last readings the reserve" if below else "the reserve"
        left = f"{by} would be reached {clock(gauge.until_s)}, {duration(gauge.left_s)} after the end"
    else:
        left = f"the reserve was reached {clock(gauge.until_s)}, {duration(gauge.left_s)} before the end"
    rate = "" if gauge.rate_per_hour is None else f"; {gauge.rate_per_hour:+.1f}{unit} an hour".replace("-", "−")
    return WatchRow(
        name=f"{gauge.person} {gauge.supply}".strip(),
        about=f"reserve {gauge.reserve:g}{unit}",
        words=f"{lowest}{f'; {left}' if left else ''}{rate}",
        bad=bool(below) or (gauge.left_s is not None and gauge.left_s < 0),
        lines=tuple(
            f"{clock(each.at_s)} {each.value:g}{unit}{', exchanged or filled' if each.anew else ''}"
            f"{', below the reserve' if each.value < gauge.reserve else ''}"
            for each in gauge.readings
        ),
    )


def tool_row(tool: ToolTold) -> WatchRow:
    fate = tool.fate.upper() if tool.fate in ("lost", "out") else tool.fate
    return WatchRow(
        name=tool.tool,
        about=fate,
        words=tool.words,
        bad=tool.fate in ("lost", "out"),
        lines=tuple(f"{clock(at_s)} {words}" for at_s, words in tool.moves),
    )
