"""The live stream: a tick every second for the runs that somebody looks at, and word of each change at once.

One stream tells of one run or of several. The id of a message is the last seq of the run that it tells of. A stream is
always answered with 200 and begins with the present state, whatever ``Last-Event-ID`` says, so there is nothing that
it could miss.
"""

import asyncio
import logging
import time
from collections.abc import AsyncIterator, Iterable
from dataclasses import dataclass
from typing import Any

from app.core.choices import offers
from app.core.rounds import round_states
from app.core.situation import Situation
from app.core.turn_back import turn_back
from app.feed import ANEW, Feed, Screen
from app.service.lookout import Lookout
from app.service.runs import Service
from app.service.values import Refused, identity
from app.store.faults import NoSuchRun, RunDamaged, StoreClosed, StoreFault
from app.web.live_messages import RETRY, beat, changed, tick, unknown
from app.web.time_told import TimeTold
from app.web.views.ahead import outlook_figures, outlook_signature
from app.web.views.figures import figures, meters, offer_figures, run_figures, team_lead

logger = logging.getLogger(__name__)

TICK_S = 1.0
HOME = 0
"""The stream of the Home page: all runs. Runs count from 1."""
REDRAW_S = 15
"""The strips and meters are drawn anew this often, even if nothing happened."""
LEAST_APART_S = 0.02
"""Marks that arrive together are told together: after one word of a change the next one waits this long at most."""
WHOLE_EVERY = 10
"""Every so many ticks all figures are sent, so that one lost message is made good."""
BEAT_S = 2.0
"""A screen that was told nothing for so long is told the server's time: own choice. A heartbeat of 10 s would do, but
after 3 s of silence a page says that it is not connected, and it should not say so for a tick that is dear."""
AGAIN_S = 2.0
"""A state that could not be read is tried again after this time."""
SESSION_LOOK_S = 600.0
"""A stream that belongs to a session is ended after this time, and opened anew by a page whose session still lasts."""


@dataclass(slots=True)
class _Seen:
    """What was last sent of a run."""

    figures: dict[str, str]
    signature: object
    view: int = 0
    ticks: int = 0


class Live:
    """Makes the messages. One for the server; `run_forever` is its only task."""

    def __init__(self, service: Service, lookout: Lookout, feed: Feed) -> None:
        self._service = service
        self._lookout = lookout
        self._feed = feed
        self._clock = TimeTold(service.clock)
        self._seen: dict[int, _Seen] = {}
        self._news: dict[int, int] = {}
        self._told_s: dict[int, float] = {}
        self._looking: dict[int, asyncio.Task[None]] = {}
        self._asked: dict[int, asyncio.Task[bytes]] = {}
        self._making: dict[int, asyncio.Task[bytes]] = {}

    def reached(self, run: int, seq: int) -> None:
        """Tell the screens that the log reached `seq`, at once if nothing was told just before. In the event loop only.

        One word for many marks is enough: it carries the last seq, and what a page then fetches is the newest.
        """
        for stream in (run, HOME):
            if stream not in self._news:
                loop = asyncio.get_running_loop()
                free_s = self._told_s.get(stream, 0) + LEAST_APART_S
                loop.call_at(max(loop.time(), free_s), self._tell_news, stream)
            self._news[stream] = seq

    def _tell_news(self, stream: int) -> None:
        self._told_s[stream] = asyncio.get_running_loop().time()
        self._feed.tell(stream, changed(stream, self._news.pop(stream), self._clock.steady()))

    async def run_forever(self) -> None:
        """Tick and give signs of life until cancelled."""
        async with asyncio.TaskGroup() as both:
            both.create_task(self._beat_forever())
            both.create_task(self._tick_forever())

    async def _beat_forever(self) -> None:
        """Beside the ticks, so that a disk that hangs does not look like a lost link."""
        while True:
            await asyncio.sleep(BEAT_S / 4)
            self._feed.tell_silent(self._beat(), BEAT_S)

    async def _tick_forever(self) -> None:
        """Look after the wall clock as well. When a tick is dear, tick less often."""
        while True:
            began = time.monotonic()
            await asyncio.to_thread(self._watch_clock)
            for run in self._feed.watched():
                await self._tell_tick(run)
                self._look_ahead(run)
            spent = time.monotonic() - began
            await asyncio.sleep(max(TICK_S - spent, 2 * spent))

    async def _tell_tick(self, run: int) -> None:
        """A tick that can't be made is left out, and the screens say how old their figures are."""
        try:
            made = await asyncio.to_thread(self._home_tick if run == HOME else self._tick, run)
        except StoreFault as fault:
            logger.warning("no tick for run %s: %s", run, fault)
        except Exception:
            logger.exception("no tick for run %s", run)
        else:
            self._feed.tell(run, made)

    def _look_ahead(self, run: int) -> None:
        """Beside the ticks, not in their way: the next tick tells what is found."""
        if run != HOME and run not in self._looking:
            task = asyncio.create_task(asyncio.to_thread(self._refresh, run))
            self._looking[run] = task
            task.add_done_callback(lambda _: self._looking.pop(run, None))

    def _refresh(self, run: int) -> None:
        try:
            if self._lookout.is_due(run):
                self._lookout.refresh(run)
        except StoreClosed:
            pass  # The server is stopping.
        except Exception:
            logger.exception("run %s can't be looked ahead in", run)

    def _watch_clock(self) -> None:
        """A step that could not be stored is found again at the next tick."""
        try:
            self._service.watch_clock()
        except StoreFault as fault:
            logger.warning("a step of the wall clock is not stored yet: %s", fault)
        except Exception:
            logger.exception("the wall clock can't be looked after")

    async def stream(self, runs: Iterable[int], session: str | None = None) -> AsyncIterator[bytes]:
        """All messages of these runs (HOME among them or not), from the present state on.

        Until the reader goes, the session is ended or the server stops. A run that there is not is told as such.
        """
        screen = self._feed.open(runs, session or None)
        again = asyncio.get_running_loop().call_later(SESSION_LOOK_S, screen.tell, None) if session else None
        try:
            yield RETRY
            async for each in self._whole(screen):
                yield each
            async for told in screen.messages():
                if told != ANEW:
                    yield told
                    continue
                async for each in self._whole(screen):
                    yield each
        finally:
            self._feed.leave(screen)
            if again is not None:
                again.cancel()

    async def _whole(self, screen: Screen) -> AsyncIterator[bytes]:
        """The present state of all that a screen watches, with signs of life while it can't be had at once."""
        for run in sorted(screen.runs):
            newest = self._newest(run)
            while not self._feed.closing and not (await asyncio.wait({newest}, timeout=BEAT_S))[0]:
                yield self._beat()
            if self._feed.closing:
                return
            yield self._begun(screen, run, newest)

    def _begun(self, screen: Screen, run: int, newest: asyncio.Future[bytes]) -> bytes:
        try:
            return newest.result()
        except (NoSuchRun, Refused):
            self._feed.drop(screen, run)
            return unknown(run)
        except StoreFault as fault:
            logger.warning("no state of run %s to begin a stream with: %s", run, fault)
        except Exception:
            logger.exception("no state of run %s to begin a stream with", run)
        asyncio.get_running_loop().call_later(AGAIN_S, screen.tell, ANEW)
        return self._beat()

    def _newest(self, run: int) -> asyncio.Future[bytes]:
        """The state of a run as of after this call. Screens that come at once, as after a restart, share one."""
        if run not in self._asked:
            task = self._asked[run] = asyncio.create_task(self._make_newest(run, self._making.get(run)))
            task.add_done_callback(lambda done: done.cancelled() or done.exception())  # Those who asked may be gone.
        return self._asked[run]

    async def _make_newest(self, run: int, before: asyncio.Task[bytes] | None) -> bytes:
        if before is not None:
            await asyncio.wait({before})
        self._making[run] = self._asked.pop(run)  # Who asks from here on gets one that is made later.
        try:
            return await asyncio.to_thread(self._home_tick if run == HOME else self._first, run)
        finally:
            del self._making[run]

    def _beat(self) -> bytes:
        return beat(self._clock.now())

    def _first(self, run: int) -> bytes:
        situation = self._service.situation(run)
        # With the view, so that a change of it right after this is seen as one.
        view = self._seen[run].view if run in self._seen else 0
        data = self._data(run, situation, figures(situation)) | {"view": view}
        return tick(run, data, situation.state.seq)

    def _home_tick(self, _: int) -> bytes:
        """The figures of the runs that go on; a run that has ended changes no more."""
        found: dict[str, str] = {}
        for stored in self._service.runs():
            try:
                if self._service.run(stored.run).stands_s is None:
                    found |= run_figures(stored.run, self._service.situation(stored.run))
            except (Refused, RunDamaged):
                continue  # It can't be read any more; the Home page says why.
        return tick(HOME, {**self._clock.now(), "figures": found, "meters": {}}, HOME)

    def _tick(self, run: int) -> bytes:
        situation = self._service.situation(run)
        offered = offers(situation)
        outlook = self._lookout.newest(run)
        now = figures(situation) | offer_figures(situation, offered) | outlook_figures(outlook, situation.at_s)
        signature = (_signature(situation), tuple(offer.eligible for offer in offered), outlook_signature(outlook))
        seen = self._seen.setdefault(run, _Seen(now, signature))
        fresh = now if seen.ticks % WHOLE_EVERY == 0 else _differences(seen.figures, now)
        seen.ticks += 1
        if seen.signature != signature:
            seen.view += 1
        seen.figures, seen.signature = now, signature
        return tick(run, self._data(run, situation, fresh) | {"view": seen.view}, situation.state.seq)

    def _data(self, run: int, situation: Situation, fresh: dict[str, str]) -> dict[str, Any]:
        live = self._service.run(run)
        ended = live.stands_s
        now_s = self._service.clock.monotonic()
        return {
            **self._clock.now(now_s),
            "of": identity(situation.state),
            "seq": situation.state.seq,
            "elapsed_ms": round(live.clock.elapsed_s(now_s) * 1000) if ended is None else ended * 1000,
            "running": ended is None,
            "rate": live.clock.rate,
            "lead_s": situation.lead_s,
            "projected_finish_s": situation.projection.end_s,
            "tone": team_lead(situation).tone,
            "figures": fresh,
            "meters": meters(situation),
        }


def _differences(before: dict[str, str], now: dict[str, str]) -> dict[str, str]:
    return {name: text for name, text in now.items() if before.get(name) != text}


def _signature(situation: Situation) -> object:
    """What makes a page look different, other than its figures: states, tones, who may start what, and the strips."""
    within = situation.procedure.on_plan_within_s
    turning = turn_back(situation)
    return (
        situation.state.seq,
        situation.at_s // REDRAW_S,
        situation.states,
        tuple((view.next, view.lead_s > within, view.lead_s < -within) for view in situation.crew),
        team_lead(situation).tone,
        situation.projection.misses,
        situation.room_s is not None and situation.room_s < 0,
        None if turning is None else turning.phase,
        tuple(each.phase for each in round_states(situation)),
    )
