"""The decisions of a run, each with what was known when it was taken, and what it changed at once. It only reads."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from app.core.events import Event, Logged
from app.core.events_watch import PollClosed
from app.core.fold import fold
from app.core.handover import is_decision
from app.core.procedure import Procedure
from app.core.situation import Prepared, Situation
from app.core.state import EMPTY, State
from app.core.watch import ALL_GO
from app.core.words import sentence


@dataclass(frozen=True, slots=True)
class Known:
    """What every screen showed: team lead, projected finish, room before the limit (None without one), seconds."""

    lead_s: int
    finish_s: int
    room_s: int | None


@dataclass(frozen=True, slots=True)
class Decision:
    """One order, with all that it decided.

    Attributes:
        seq: its first entry's. at_s: when it holds from. logged_s: when it was entered; `before` is of that second.
        words: the log's sentences. before: known from what had been entered by then, late words not yet among it.
        after: the same second, with the order in it.
    """

    seq: int
    at_s: int
    logged_s: int
    by: str
    words: tuple[str, ...]
    before: Known
    after: Known


def decisions(prepared: Prepared, procedure: Procedure, log: Sequence[Logged]) -> tuple[Decision, ...]:
    """Every decision, in the order in which they were entered.

    `procedure` is the run's (`Situation.procedure`), for the words. Past moments show what happened; what was known
    is another thing: it is the log up to the order, so a mark that was heard afterwards is not in it.
    """
    return tuple(_decisions(prepared, procedure, log))


def _decisions(prepared: Prepared, procedure: Procedure, log: Sequence[Logged]) -> Iterator[Decision]:
    state, waiting = EMPTY, list[Logged]()
    for _, entries in groupby(log, key=lambda logged: logged.key):
        order = list(entries)
        decided = [logged for logged in order if is_decision(logged.event) and not _by_itself(logged.event)]
        if decided:
            before = fold(waiting, state)
            state, waiting = fold(order, before), []
            first = decided[0]
            yield Decision(
                seq=first.seq,
                at_s=first.at_s,
                logged_s=first.logged_s,
                by=first.by,
                words=tuple(sentence(logged.event, procedure) for logged in decided),
                before=known(prepared, before, first.logged_s),
                after=known(prepared, state, first.logged_s),
            )
        else:
            waiting += order


def _by_itself(event: Event) -> bool:
    """A poll in which all are go closes without anybody's decision."""
    return isinstance(event, PollClosed) and event.reason == ALL_GO


def known(prepared: Prepared, state: State, at_s: int) -> Known:
    """What a screen shows of this state at that second."""
    situation = Situation(prepared, state, at_s)
    return Known(situation.lead_s, situation.projection.end_s, situation.room_s)
