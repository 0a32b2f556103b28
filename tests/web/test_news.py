"""How word of a change reaches the screens: at once, and once for what comes together."""

import asyncio
import json
from types import SimpleNamespace
from typing import cast

from app.feed import Feed, Screen
from app.service.lookout import Lookout
from app.service.runs import Service
from app.web.live import HOME, LEAST_APART_S, Live
from tests.service.making import SetClock


async def _told(screen: Screen, feed: Feed) -> list[int]:
    feed.close()
    return [json.loads(each.split(b"data: ")[1])["seq"] async for each in screen.messages()]


def _live(feed: Feed) -> Live:
    clocked = SimpleNamespace(clock=SetClock().server())  # Word of a change asks the service the time, and no more.
    return Live(cast(Service, clocked), cast(Lookout, None), feed)


def test_a_lone_mark_is_told_at_once_and_marks_that_come_together_with_one_word() -> None:
    async def scene() -> list[int]:
        feed = Feed()
        live, screen = _live(feed), feed.open([7])
        live.reached(7, 1)
        await asyncio.sleep(0)
        await asyncio.sleep(0)
        for seq in range(2, 30):
            live.reached(7, seq)
        await asyncio.sleep(LEAST_APART_S * 2)
        live.reached(7, 30)
        await asyncio.sleep(LEAST_APART_S)
        return await _told(screen, feed)

    assert asyncio.run(scene()) == [1, 29, 30]


def test_the_home_page_hears_of_every_run_and_a_run_only_of_itself() -> None:
    async def scene() -> tuple[list[int], list[int]]:
        feed = Feed()
        live, home, other = _live(feed), feed.open([HOME]), feed.open([8])
        live.reached(7, 4)
        await asyncio.sleep(LEAST_APART_S)
        live.reached(8, 2)
        await asyncio.sleep(LEAST_APART_S * 2)
        return await _told(home, feed), await _told(other, feed)

    assert asyncio.run(scene()) == ([4, 2], [2])
