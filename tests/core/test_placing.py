"""Work put into an order that is there already, against sorting anew."""

from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.core.choices import offers
from app.core.fold import fold
from app.core.network import Network, arrange, with_task
from app.core.passes import project
from app.core.placing import Placing
from app.core.situation import Prepared, Situation
from tests.core.building import procedure, task
from tests.core.guesses import procedures, runs
from tests.core.running import Run

SETTINGS = settings(
    max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much]
)


@SETTINGS
@given(data=st.data())
def test_an_order_that_is_kept_gives_the_times_of_one_that_is_sorted_anew(data: st.DataObject) -> None:
    made = data.draw(procedures(get_ahead=3))
    _, log, at_s = data.draw(runs(made))
    now = Situation(Prepared(made), fold(log), at_s)
    done, removed = now.facts.done, now.facts.removed
    for one in made.tasks:
        if not one.get_ahead or one.id in now.state.taken:
            continue
        placing = Placing(now.network, one.id, done, removed)
        anywhere = st.sampled_from([None, *(each.id for each in made.tasks)])
        places = tuple((person, data.draw(anywhere)) for person in one.people)
        order = placing.at(places)
        if order is not None:
            # No `Cycle`: an order that could be kept is one that can be done.
            lists = with_task(now.lists, one.id, places)
            anew = arrange(now.network, lists, (*now.state.taken, one.id), done, removed)
            kept = project(_ordered(now, order), now.facts, at_s)
            assert sorted(order) == sorted(anew.order)
            assert kept == project(anew, now.facts, at_s)


def _ordered(now: Situation, order: tuple[int, ...]) -> Network:
    return replace(now.network, order=order)


def test_an_item_for_one_person_keeps_the_order_at_every_gap() -> None:
    made = procedure(
        *(task(f"t{number}", [60, 60], who="EV1" if number % 2 else "EV2") for number in range(8)),
        task("extra", [30, 30], who="EV1", get_ahead=True),
    )
    now = Run(made).at(0)
    placing = Placing(now.network, "extra", (), ())
    for before in ("t1", "t3", "t5", "t7", None):
        order = placing.at((("EV1", before),))
        assert order is not None
        own = [made.steps[number].id for number in order if "EV1" in made.steps[number].who]
        assert own.index("extra/2") == own.index("extra/1") + 1
        assert before is None or own.index("extra/2") + 1 == own.index(f"{before}/1")
    assert len(offers(now)) == 1


def test_where_the_item_waits_for_later_work_of_its_list_the_order_is_not_kept() -> None:
    made = procedure(
        task("first", [60], who="EV1"),
        task("second", [60], who="EV1"),
        task("extra", [30], who="EV1", after=["second"], get_ahead=True),
    )
    placing = Placing(Run(made).at(0).network, "extra", (), ())
    assert placing.at((("EV1", "second"),)) is None
    assert placing.at((("EV1", None),)) == (0, 1, 2)
