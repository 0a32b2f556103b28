"""The debrief's rows about the lead, holds, polls and decisions, in words. It computes nothing but lengths of time."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.core.debrief import Debrief, Remark, around
from app.core.debrief_decisions import Decision, Known
from app.core.debrief_holds import HoldTold, PollTold, Said, WaitedFor
from app.core.lead_moves import LeadMove
from app.core.times import clock, duration, lead_words
from app.web.views.figures import SIGNS, Lead, lead, room_words


@dataclass(frozen=True, slots=True)
class MoveRow:
    """One reason for which a lead changed: `change` in words, `share` of the largest change in per cent."""

    change: Lead
    share: float
    when: str
    words: str
    step: str
    seq: int | None
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Moves:
    """Of the team, or of a person: the rows, and what they add up to."""

    who: str
    rows: tuple[MoveRow, ...]
    won: str
    lost: str
    total: str


@dataclass(frozen=True, slots=True)
class WaitRow:
    """A hold or a poll: what was asked, when, how long it waited for whom, and all answers in words."""

    title: str
    about: str
    asked: str
    over: str
    waited: str
    waits: tuple[str, ...]
    answers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DecisionRow:
    """What was decided, by whom, and the figures that the screens showed then; `after` where the order moved them."""

    at: str
    entered: str
    by: str
    seq: int
    words: tuple[str, ...]
    lead: Lead
    finish: str
    room: str
    after: str


def moves(told: Debrief, who: str, found: Sequence[LeadMove]) -> Moves:
    """`found` are the changes of one lead, the largest first. They are told to the second, whatever "on plan" is."""
    largest_s = max((abs(move.lead_s) for move in found), default=1)
    won_s = sum(move.lead_s for move in found if move.lead_s > 0)
    lost_s = sum(-move.lead_s for move in found if move.lead_s < 0)
    return Moves(
        who=who,
        rows=tuple(_move(told, move, largest_s) for move in found),
        won=duration(won_s),
        lost=duration(lost_s),
        total=lead_words(won_s - lost_s),
    )


def _move(told: Debrief, move: LeadMove, largest_s: int) -> MoveRow:
    tone, what = ("ahead", "won") if move.lead_s > 0 else ("behind", "lost")
    when = clock(move.from_s) if move.from_s == move.to_s else f"{clock(move.from_s)} to {clock(move.to_s)}"
    spells = f", in {move.times} spells" if move.times > 1 else ""
    return MoveRow(
        change=Lead(f"{duration(move.lead_s)} {what}", tone),
        share=round(abs(move.lead_s) * 100 / largest_s, 1),
        when=f"{when}{spells}",
        words=move.words,
        step=move.step or "",
        seq=move.seq,
        remarks=tuple(remark_words(remark) for remark in around(told, move)),
    )


def remark_words(remark: Remark) -> str:
    return f"{clock(remark.at_s)} {remark.words} ({remark.by})"


def hold_row(hold: HoldTold) -> WaitRow:
    who = " and ".join(hold.who) or "nobody"
    after = "" if not hold.after_s else f", {duration(hold.after_s)} after the last go"
    return WaitRow(
        title=hold.do,
        about=f"{hold.step} · {who}",
        asked=clock(hold.reached_s),
        over="still open" if hold.done_s is None else f"{clock(hold.done_s)}{after}",
        waited=duration(hold.waited_s),
        waits=tuple(_wait(wait) for wait in hold.waits),
        answers=tuple(_said(said) for said in hold.answers),
    )


def poll_row(poll: PollTold) -> WaitRow:
    closed = "still open" if poll.closed_s is None else f"{clock(poll.closed_s)}, {poll.closed_because}"
    return WaitRow(
        title=poll.question,
        about=f"{poll.poll} · called by {poll.by}",
        asked=clock(poll.called_s),
        over=closed,
        waited=duration(poll.waited_s),
        waits=tuple(_wait(wait) for wait in poll.waits),
        answers=tuple(_said(said) for said in poll.answers),
    )


def _wait(wait: WaitedFor) -> str:
    if wait.go_s is None:
        return f"{wait.person} {duration(wait.waited_s)}, no go"
    return f"{wait.person} {duration(wait.waited_s)}"


def _said(said: Said) -> str:
    lifted = f"; lifts the no-go: {said.reason}" if said.reason else ""
    answer = f"is go{lifted}" if said.go else f"is NO-GO: {said.reason}"
    heard = ", heard on the loop" if said.heard else ""
    return f"{clock(said.at_s)} {said.person} {answer}{heard} ({said.by})"


def decision_row(decision: Decision, within_s: int) -> DecisionRow:
    before, after = decision.before, decision.after
    late = decision.logged_s != decision.at_s
    return DecisionRow(
        at=clock(decision.at_s),
        entered=f"entered {clock(decision.logged_s)}" if late else "",
        by=decision.by,
        seq=decision.seq,
        words=decision.words,
        lead=lead(before.lead_s, within_s),
        finish=clock(before.finish_s),
        room=room_words(before.room_s),
        after="" if after == before else _after(before, after),
    )


def _after(before: Known, after: Known) -> str:
    """What the order moved, to the second."""
    said = []
    if after.lead_s != before.lead_s:
        won_s = after.lead_s - before.lead_s
        sign = SIGNS["ahead" if won_s > 0 else "behind"]
        said.append(f"{sign} {duration(won_s)} {'won' if won_s > 0 else 'lost'}: {lead_words(after.lead_s)}")
    if after.finish_s != before.finish_s:
        said.append(f"finish {clock(after.finish_s)}")
    if after.room_s != before.room_s:
        said.append(f"room {room_words(after.room_s)}")
    return ", ".join(said)
