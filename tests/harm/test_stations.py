"""Two stations over the real service and store are one after the other, as the sequential model has it."""

import random
import threading
from collections.abc import Callable
from itertools import count
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule, run_state_machine_as_test

from app.core.commands import AddNote, Refusal, ReopenStep, UndoMark
from app.core.fold import fold
from app.service.runs import Service
from app.service.values import Sender
from app.store import journal
from app.web.keys import new_key
from tests.core.ledger import Ledger, StepOrder
from tests.harm.sequential import Answered, differences, violations
from tests.harm.stations import TEXT, an_order, begin, history, lost_updates, ordered
from tests.service.making import SetClock, store

SETTINGS = settings(stateful_step_count=40, deadline=None, suppress_health_check=list(HealthCheck))
SEEDS = st.integers(0, 2**32)
"""Orders are made from seeds and the state, so that what hypothesis draws does not hang on how threads interleave."""


class Stations(RuleBasedStateMachine):
    """Orders one by one and two at once, repeats, restarts; after each the run is what the ledger has."""

    races = True
    """Whether threads race: which of two orders comes first is then another each time."""

    def __init__(self) -> None:
        super().__init__()
        self.folder, self.clock, self.ticket = Path(mkdtemp(prefix="leadline-harm-")), SetClock(), count()
        self.given: list[tuple[str, StepOrder, int, Answered]] = []
        self._open()
        loaded = self.service.shelf.load(TEXT, "pair.yaml").hash
        self.run_number = self.service.start_run(loaded, "rehearsal", Sender("A", "s", new_key()))
        self.ledger = Ledger(self.service.run(self.run_number).prepared.procedure)

    def _open(self) -> None:
        self.store = store(self.folder)
        self.service = Service(self.store, self.clock.server())

    def teardown(self) -> None:
        self.store.close()
        rmtree(self.folder)

    def _made(self, seed: int) -> tuple[str, StepOrder, int]:
        pick, live = random.Random(seed), self.service.run(self.run_number)
        steps = live.prepared.procedure.steps
        left = [each for each in steps if each.id not in live.state.done]
        command = an_order(pick, live.state, pick.choice(left[:2] if left and pick.random() < 0.8 else steps))
        back_s = 0 if isinstance(command, UndoMark | ReopenStep) else pick.choice([0, 0, 0, 5])
        return new_key(), command, max(0, int(self.clock.at_s) - back_s)

    def _give(self, key: str, command: StepOrder, at_s: int) -> Answered:
        answered = ordered(self.service, self.run_number, command, at_s, self.ticket, key)
        self.given.append((key, command, at_s, answered))
        return answered

    @rule(seconds=st.integers(1, 90))
    def time_passes(self, seconds: int) -> None:
        self.clock.at_s += seconds

    @rule(seed=SEEDS)
    def one_orders(self, seed: int) -> None:
        key, command, at_s = self._made(seed)
        answered = self._give(key, command, at_s)
        assert self.ledger.give(command, at_s) is (answered.seq is not None), answered

    @rule(first=SEEDS, second=SEEDS)
    def two_orders_share_a_commit(self, first: int, second: int) -> None:
        """The writer is at something else when they arrive, so both are decided in one transaction."""
        orders, gate = [self._made(first), self._made(second)], threading.Event()
        self._judged(lambda: self._both(orders, gate))

    def _both(self, orders: list[tuple[str, StepOrder, int]], gate: threading.Event) -> None:
        self.store.write(lambda _: gate.wait(5))
        waiting = [begin(self.service, self.run_number, order[1], order[2], self.ticket, order[0]) for order in orders]
        gate.set()
        self.given += [(*order, told()) for order, told in zip(orders, waiting, strict=True)]

    @precondition(lambda self: self.races)
    @rule(first=SEEDS, second=SEEDS)
    def two_order_at_once(self, first: int, second: int) -> None:
        pressing = [threading.Thread(target=self._give, args=self._made(seed)) for seed in (first, second)]

        def press() -> None:
            for each in pressing:
                each.start()
            for each in pressing:
                each.join()

        self._judged(press)

    def _judged(self, press: Callable[[], None]) -> None:
        since = self._seq()
        press()
        answers = [answered for *_, answered in self.given[-2:]]
        assert violations(self.ledger, answers, self.service.run(self.run_number).state, since) == []
        for each in sorted((one for one in answers if one.seq is not None), key=lambda one: one.seq or 0):
            self.ledger.give(each.command, each.at_s)

    @precondition(lambda self: self.given)
    @rule(which=st.integers(0, 10**6))
    def a_press_is_sent_again(self, which: int) -> None:
        key, command, at_s, before = self.given[which % len(self.given)]
        if before.seq is None:
            return  # Nothing is kept of a refusal: it may be allowed now, and is then a new order.
        again = ordered(self.service, self.run_number, command, at_s, self.ticket, key)
        assert (again.seq, again.first_seq) == (before.seq, before.first_seq)
        with pytest.raises(Refusal, match="used for something else"):
            self.service.order(self.run_number, AddNote("other"), Sender("B", "s", key)).result()

    @rule()
    def the_server_is_started_again(self) -> None:
        self.store.close()
        self._open()

    def _seq(self) -> int:
        return self.service.run(self.run_number).state.seq

    @invariant()
    def the_run_is_what_the_orders_make(self) -> None:
        state = self.service.run(self.run_number).state
        assert differences(self.ledger, state) == []
        assert fold(self.store.read(lambda conn: journal.read(conn, self.run_number))) == state


class OneAfterTheOther(Stations):
    """Without races the same draws do the same again, as hypothesis wants of a test that is to fail."""

    races = False


def test_whatever_two_stations_do_the_run_is_what_their_orders_make_one_after_the_other() -> None:
    run_state_machine_as_test(Stations, settings=settings(SETTINGS, max_examples=15))


@pytest.mark.parametrize("stations", [2, 3, 5])
def test_histories_of_stations_that_order_at_once_are_linearizable(stations: int) -> None:
    for seed in range(3):
        told, wrong = history(seed, stations)
        assert not wrong
        assert any(each.seq is not None for each in told)


def test_a_planted_lost_update_is_caught_in_histories() -> None:
    with lost_updates():
        assert any(history(seed, 3)[1] for seed in range(10))


def test_a_planted_lost_update_is_caught_by_the_state_machine() -> None:
    once = settings(SETTINGS, max_examples=100, phases=[Phase.generate], database=None, derandomize=True)
    with lost_updates(), pytest.raises(AssertionError, match="may not be"):
        run_state_machine_as_test(OneAfterTheOther, settings=once)
