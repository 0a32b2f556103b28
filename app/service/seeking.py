"""The moments of a run worth going to: keeps what it found, and looks only through what is new. It changes nothing."""

import time
from bisect import insort
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from threading import Lock

from app.core.events import Logged, NoteAdded, StartRecorded, StepMarked, StepReopened
from app.core.events_progress import ActionsDone, MarkCorrected
from app.core.events_watch import PollCalled
from app.core.fold import changes_from_s, happened_s
from app.core.moments import Depth, Kind, Turn, after, depth_of, kind_of_jump, turns
from app.core.passes import project
from app.core.procedure import StepId
from app.core.rehearsal import is_kept_from_trainees
from app.core.situation import Situation
from app.service.live_run import LiveRun

COMMON = (StepMarked, StartRecorded, StepReopened, NoteAdded)
"""Most entries of a log are of these, which are jumped to as nothing: they are passed over at once."""


@dataclass(frozen=True, slots=True)
class Moments:
    """What is known of a run's moments.

    Attributes:
        seconds: at which something happened, rising, each once; without what a rehearsal keeps from its trainees, and
            without the old times of marks that were corrected, at which nothing is seen.
        entries: of the log by what they are jumped to as, in order of when they happened.
        turns: of the team lead before `looked_s`, the first second that was not looked at yet.
        polls: the entries that called one, which a no-go there is about.
        end_s: the last second of the run, of one that goes on the present. running: whether it goes on.
    """

    seconds: Sequence[int]
    entries: Mapping[Kind, Sequence[Logged]]
    turns: Sequence[Turn]
    looked_s: int
    polls: Sequence[Logged]
    end_s: int
    running: bool

    @property
    def complete(self) -> bool:
        return self.looked_s > self.end_s


class RunMoments:
    """Of one run, whose log only grows at its end. Safe to ask from several threads.

    Entries are found at once. To find where the lead turned takes a projection or two for each second at which
    something happened, so that is done a little at a time, and only while somebody waits for it.
    """

    def __init__(self) -> None:
        self._lock = Lock()
        self._looking = Lock()
        self._seen = 0
        self._seconds = _Seconds()
        self._edges: tuple[int, ...] = ()
        self._entries: dict[Kind, list[tuple[int, int, Logged]]] = {
            kind: [] for kind in Kind if kind is not Kind.BEHIND
        }
        self._polls: list[Logged] = []
        self._turns: list[Turn] = []
        self._looked_s = 0
        self._depth: Depth | None = Depth.NOT_NEGATIVE

    def found(self, live: LiveRun, look_s: float) -> Moments:
        """All that is known, after looking for turns of the lead for `look_s` seconds more, if that is still to do.

        The stretch since the last event is always looked through, so that a run that goes on is not for ever behind.
        """
        end_s = max(0, live.now_s())
        until = time.monotonic() + look_s
        with self._looking:
            while self._is_last_stretch(live, end_s) or time.monotonic() < until:
                if not self._look(live, end_s):
                    break
        with self._lock:
            entries = {kind: tuple(row[-1] for row in rows) for kind, rows in self._entries.items()}
            shown, polls = tuple(self._turns), tuple(self._polls)
            running = live.state.ended_s is None
            return Moments(self._seconds.rising, entries, shown, self._looked_s, polls, end_s, running)

    def _take_in(self, log: list[Logged]) -> None:
        """Sort in what is new, and forget the turns that it may have changed."""
        new = log[self._seen :]
        if not new:
            return
        self._seen += len(new)
        told = [logged for logged in new if not is_kept_from_trainees(logged.event)]
        self._seconds.take_in(told)
        edges = {happened_s(logged) for logged in told} | {changes_from_s(logged) for logged in told}
        self._edges = _joined(self._edges, sorted(edges))
        for logged in told:
            if isinstance(logged.event, COMMON):
                continue
            if kind := kind_of_jump(logged.event):
                insort(self._entries[kind], (happened_s(logged), logged.seq, logged))
            if isinstance(logged.event, PollCalled):
                self._polls.append(logged)
        since_s = min((changes_from_s(logged) for logged in told), default=self._looked_s)
        if since_s < self._looked_s:
            self._turns = [turn for turn in self._turns if turn.at_s < since_s]
            self._looked_s, self._depth = since_s, None

    def _is_last_stretch(self, live: LiveRun, end_s: int) -> bool:
        with self._lock:
            self._take_in(live.log)
            following = after(self._edges, self._looked_s)
            return self._looked_s <= end_s and (following is None or following > end_s)

    def _look(self, live: LiveRun, end_s: int) -> bool:
        """Look through the next stretch between two events; False if there is none."""
        with self._lock:
            self._take_in(live.log)
            seen, first_s, depth, following = (
                self._seen,
                self._looked_s,
                self._depth,
                after(self._edges, self._looked_s),
            )
        if first_s > end_s:
            return False
        last_s = end_s if following is None else min(following - 1, end_s)
        within_s = live.prepared.procedure.on_plan_within_s
        if depth is None:
            depth = (
                depth_of(_Stretch(live, first_s - 1).lead_at(first_s - 1), within_s) if first_s else Depth.NOT_NEGATIVE
            )
        found, ends = turns(_Stretch(live, first_s).lead_at, first_s, last_s, depth, within_s)
        with self._lock:
            if seen == self._seen:
                self._turns += found
                self._looked_s, self._depth = last_s + 1, ends
        return True


class _Seconds:
    """At which something happened. A corrected mark happened at its new time, with the actions counted with it."""

    def __init__(self) -> None:
        self.rising: tuple[int, ...] = ()
        self._entries: Counter[int] = Counter()
        self._done: Counter[tuple[StepId, int]] = Counter()

    def take_in(self, new: Sequence[Logged]) -> None:
        seconds, left = set[int](), False
        for logged in new:
            event, at_s = logged.event, happened_s(logged)
            if isinstance(event, MarkCorrected) and event.was_s != event.now_s:
                self._entries[event.was_s] -= self._done.pop((event.step, event.was_s), 0)
                left = True
            if isinstance(event, StepMarked | ActionsDone | MarkCorrected):
                self._done[event.step, at_s] += 1
            self._entries[at_s] += 1
            seconds.add(at_s)
        self.rising = _joined(self.rising, sorted(seconds))
        if left:
            self.rising = tuple(second for second in self.rising if self._entries[second] > 0)


class _Stretch:
    """The team lead at seconds between two events: one state, of which only the time goes on."""

    def __init__(self, live: LiveRun, first_s: int) -> None:
        self._situation = Situation(live.prepared, live.past.at(first_s), first_s)

    def lead_at(self, at_s: int) -> int:
        situation = self._situation
        if at_s == situation.at_s:
            return situation.lead_s
        return situation.lead_of(project(situation.network, situation.facts, at_s))


def _joined(known: tuple[int, ...], rising: Sequence[int]) -> tuple[int, ...]:
    """Both, rising, each once."""
    if not known or (rising and rising[0] > known[-1]):
        return (*known, *rising)
    return tuple(sorted({*known, *rising}))
