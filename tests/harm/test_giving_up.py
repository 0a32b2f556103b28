"""Who gives an order and does not wait for its answer changes nothing for the others."""

import asyncio
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from app.core.commands import AddNote
from app.service.runs import Service, wait
from tests.service.making import SetClock, sender, small_run, store


@pytest.fixture
def service(tmp_path: Path) -> Iterator[Service]:
    with store(tmp_path) as opened:
        yield Service(opened, SetClock().server())


def test_an_order_whose_sender_gives_up_is_stored_and_every_screen_is_told(service: Service) -> None:
    run, told, gate = small_run(service), list[int](), threading.Event()
    service.listen(lambda _, seq: told.append(seq))

    async def give_up() -> None:
        waiting = asyncio.ensure_future(wait(service.order(run, AddNote("said and gone"), sender())))
        await asyncio.sleep(0)
        waiting.cancel()
        with pytest.raises(asyncio.CancelledError):
            await waiting

    service.store.write(lambda _: gate.wait(5))
    asyncio.run(give_up())
    gate.set()
    assert service.order(run, AddNote("the next one"), sender()).result().seq == 3
    service.store.write(lambda _: None).result()  # Screens are told after the answer, and before what follows.
    assert told == [2, 3]
    assert [each.seq for each in service.run(run).log] == [1, 2, 3]
