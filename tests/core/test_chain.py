"""The critical chain: it explains the finish link by link, and says truly what quicker work would win."""

from dataclasses import replace
from itertools import pairwise

import networkx as nx
from hypothesis import HealthCheck, given, settings

from app.core.chain import Because, Link, chain
from app.core.commands import EndRun, RecordStart, SetNotNeeded
from app.core.events import StepNotNeeded
from app.core.passes import project
from app.core.procedure import Procedure
from app.core.situation import Prepared, Situation, StepState
from app.core.state import EMPTY
from app.core.suppose import suppose
from tests.core.building import link, procedure, task
from tests.core.guesses_late import late_situations
from tests.core.running import Run
from tests.core.test_against_networkx import END, START, networks

SETTINGS = settings(
    max_examples=250, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
LINKED = (Because.AFTER, Because.PERSON)


def counted(situation: Situation) -> list[int]:
    return [n for n in range(len(situation.network.steps)) if situation.is_open(n) and situation.network.counted[n]]


@SETTINGS
@given(situation=late_situations())
def test_the_chain_ends_with_the_step_that_finishes_last(situation: Situation) -> None:
    links, ends = chain(situation), counted(situation)
    if not ends:
        assert links == ()
        return
    assert links[-1].finish_s == max(situation.projection.times(each)[1] for each in ends)
    assert links[-1].finish_s == situation.projection.end_s or situation.projection.end_s < situation.at_s
    first = min(each for each in ends if situation.projection.times(each)[1] == links[-1].finish_s)
    assert links[-1].step == first


@SETTINGS
@given(situation=late_situations())
def test_each_link_starts_when_the_one_before_lets_it(situation: Situation) -> None:
    links = chain(situation)
    for each in links:
        assert situation.is_open(each.step)
        assert (each.start_s, each.finish_s) == situation.projection.times(each.step)
    for earlier, later in pairwise(links):
        assert later.because in (*LINKED, Because.WINDOW)
        free_s = earlier.finish_s
        if later.because is Because.PERSON:
            people = situation.network.people
            assert set(people[earlier.step]) & set(people[later.step])
        else:
            waits = [wait for before, wait in situation.prerequisites(later.step) if before == earlier.step]
            same = set(situation.network.people[earlier.step]) & set(situation.network.people[later.step])
            assert waits or (same and later.because is Because.WINDOW)
            free_s += max(waits, default=0)
        assert later.start_s > free_s if later.because is Because.WINDOW else later.start_s == free_s


@SETTINGS
@given(situation=late_situations())
def test_the_first_link_is_held_by_nothing_that_is_still_to_be_done(situation: Situation) -> None:
    for first in chain(situation)[:1]:
        match first.because:
            case Because.UNDER_WAY:
                assert situation.states[first.step] is StepState.UNDER_WAY
                assert first.start_s <= situation.at_s
            case Because.WINDOW:
                spans = situation.network.spans[first.step] or ()
                assert first.start_s in {span.opens_s for span in spans}
            case Because.KNOWN:
                assert first.start_s == known_s(situation, first.step)
            case _:
                raise AssertionError(first.because)


def known_s(situation: Situation, step: int) -> int:
    """The latest of what is certain: bounds of its own, what it waits for, its people's last finish."""
    network = situation.network
    last = [
        ends for each, ends in situation.facts.done.items() if set(network.people[each]) & set(network.people[step])
    ]
    bounds = (network.not_before_s[step], situation.facts.floor_s.get(step, 0))
    return max([*bounds, *last, passed_on_s(situation, step)])


def passed_on_s(situation: Situation, step: int) -> int:
    """What done prerequisites allow, and what put-off ones pass on: a wait after one of those counts from what it
    waited for, and from zero if that is nothing."""
    found = [0]
    for each, wait in situation.network.before[step]:
        if each in situation.facts.done:
            found.append(situation.facts.done[each] + wait)
        elif each in situation.facts.removed:
            found.append(passed_on_s(situation, each) + wait)
    return max(found)


@SETTINGS
@given(situation=late_situations())
def test_the_chain_adds_up_to_the_finish(situation: Situation) -> None:
    links = chain(situation)
    at_s = links[0].start_s if links else 0
    for number, each in enumerate(links):
        assert each.start_s >= at_s or number == 0
        waited_s = each.start_s - at_s
        at_s += waited_s + (each.finish_s - each.start_s)
        took_s = situation.network.takes_s[each.step]
        assert each.finish_s - each.start_s == took_s or each.finish_s == situation.at_s
    assert not links or at_s == links[-1].finish_s


def finish_without(situation: Situation, number: int) -> int:
    """The projected finish if this step took no time, by the projection itself."""
    takes = [0 if each == number else takes_s for each, takes_s in enumerate(situation.network.takes_s)]
    return project(replace(situation.network, takes_s=tuple(takes)), situation.facts, situation.at_s).end_s


@SETTINGS
@given(situation=late_situations())
def test_a_gain_is_what_the_finish_moves_when_the_step_is_over_at_once(situation: Situation) -> None:
    for each in chain(situation):
        assert each.gain_s == situation.projection.end_s - finish_without(situation, each.step) >= 0


@SETTINGS
@given(situation=late_situations())
def test_quicker_work_off_the_chain_wins_nothing(situation: Situation) -> None:
    on_chain = {each.step for each in chain(situation)}
    for number in counted(situation):
        if number not in on_chain:
            assert finish_without(situation, number) == situation.projection.end_s


@SETTINGS
@given(made=networks())
def test_an_unbegun_chain_is_as_long_as_the_longest_path(made: "tuple[Procedure, nx.DiGraph[str]]") -> None:
    given_procedure, graph = made
    situation = Situation(Prepared(given_procedure), EMPTY, 0)
    longest = -int(nx.single_source_bellman_ford_path_length(graph, START)[END])
    links = chain(situation)
    assert links[-1].finish_s == longest
    assert sum(weight(graph, situation, one, two) for one, two in pairwise(links)) == (
        longest - situation.network.takes_s[links[-1].step]
    )


def weight(graph: "nx.DiGraph[str]", situation: Situation, one: Link, two: Link) -> int:
    """The edge of the graph from one link to the next: the chain is a path of it."""
    tasks = [situation.network.steps[each.step].task for each in (one, two)]
    return -int(graph.edges[tasks[0], tasks[1]]["weight"])


# One by one


def test_a_chain_says_why_each_step_starts_then() -> None:
    made = procedure(
        task("a", [100], who="EV1"),
        task("b", [50], who="EV1"),
        task("c", [30], who="EV2", after=[link("b", 20)]),
        task("d", [10], who="EV2", within="pass"),
        windows={"pass": [(300, 400)]},
    )
    whole = chain(Run(made).at(10))
    assert [(each.start_s, each.finish_s, each.because) for each in whole] == [(300, 310, Because.WINDOW)]
    other = procedure(*made.tasks[:3])
    assert [(each.start_s, each.finish_s, each.because, each.gain_s) for each in chain(Run(other).at(10))] == [
        (0, 100, Because.UNDER_WAY, 90),
        (100, 150, Because.PERSON, 50),
        (170, 200, Because.AFTER, 30),
    ]


def test_a_step_under_way_gains_no_more_than_what_is_left_of_it() -> None:
    run = Run(procedure(task("a", [100], who="EV1"), task("short", [70], who="EV2")))
    run.order(RecordStart("a/1"), 0)
    assert [(each.because, each.gain_s) for each in chain(run.at(20))] == [(Because.UNDER_WAY, 30)]


def test_a_step_that_was_started_early_does_not_hide_the_one_that_it_overtook() -> None:
    run = Run(procedure(task("a", [300], who="EV1"), task("b", [50], who="EV1"), task("c", [10], who="EV1")))
    run.order(RecordStart("b/1"), 0)
    assert [(each.step, each.because) for each in chain(run.at(10))] == [(0, Because.UNDER_WAY), (2, Because.PERSON)]


def test_of_two_equal_chains_the_first_in_the_file_is_shown_and_gains_nothing() -> None:
    run = Run(procedure(task("a", [100], who="EV1"), task("b", [100], who="EV2")))
    assert [(each.step, each.gain_s) for each in chain(run.at(0))] == [(0, 0)]


def test_when_nothing_is_left_there_is_no_chain() -> None:
    run = Run(procedure(task("a", [100], who="EV1"))).mark(a_1=90)
    assert chain(run.at(200)) == ()
    run.order(EndRun("done"), 200)
    assert chain(run.at(200)) == ()


def test_a_step_that_is_not_needed_is_no_link_and_passes_the_chain_on() -> None:
    run = Run(
        procedure(
            task("a", [100], who="EV1"),
            task("b", [100], who="EV2", after=["a"]),
            task("c", [100], who="ARM", after=[link("b", 40)]),
        )
    )
    run.order(SetNotNeeded("b/1", "seen already"), 0)
    assert [(each.step, each.start_s, each.because) for each in chain(run.at(10))] == [
        (0, 0, Because.UNDER_WAY),
        (2, 140, Because.AFTER),
    ]


def test_a_chain_does_not_begin_after_a_step_that_is_not_in_it() -> None:
    """What the removed step passes on is known: the step is not said to wait for a step before."""
    made = procedure(
        task("a", [100], who="EV1"),
        task("b", [100], who="EV2", after=["a"]),
        task("c", [100], who="ARM", after=[link("b", 40)]),
    )
    run = Run(made).mark(a_1=100)
    then = suppose(run.at(110), [StepNotNeeded("b/1", "seen already")])
    assert [(each.step, each.start_s, each.because) for each in chain(then)] == [(2, 140, Because.KNOWN)]


def test_a_step_whose_window_is_gone_is_not_called_under_way() -> None:
    made = procedure(task("a", [10], who="EV1"), task("b", [20], who="EV1", within="pass"), windows={"pass": [(0, 30)]})
    situation = Run(made).mark(a_1=40).at(50)
    assert situation.states == (StepState.DONE, StepState.WAITING)
    assert [(each.step, each.because) for each in chain(situation)] == [(1, Because.KNOWN)]


def test_an_earlier_opening_that_quicker_work_would_reach_keeps_that_work_on_the_chain() -> None:
    made = procedure(
        task("a", [100], who="EV1"),
        task("b", [50], who="EV1"),
        task("c", [10], who="EV1", within="pass"),
        windows={"pass": [(0, 120), (300, 400)]},
    )
    assert [(each.step, each.because, each.gain_s) for each in chain(Run(made).at(10))] == [
        (0, Because.UNDER_WAY, 240),
        (1, Because.PERSON, 200),
        (2, Because.WINDOW, 10),
    ]
