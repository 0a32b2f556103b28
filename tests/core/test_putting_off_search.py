"""The search for what to put off: where it ends, where it gives up and says so, and how little it loses for an aim."""

import math
from dataclasses import replace
from typing import Literal

import pytest
from hypothesis import HealthCheck, given, settings

from app.core import putting_off
from app.core.closed_sets import ClosedSets, all_tried, cheapest_first, least_for
from app.core.commands import ReviseTakes
from app.core.procedure import Limits
from app.core.putting_off import options
from app.core.situation import Prepared, Situation
from app.core.state import EMPTY
from tests.core.building import procedure, task
from tests.core.choices_by_force import every_choice, figures, front_of, put_off
from tests.core.guesses_late import late_situations
from tests.core.running import Run


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(situation=late_situations(most=9))
def test_trying_all_choices_gives_what_the_search_gives(situation: Situation) -> None:
    same_both_ways(situation)


def same_both_ways(situation: Situation) -> list[tuple[int, int]]:
    closed = putting_off.candidates(situation)
    if not closed:
        return []
    sets = ClosedSets(situation, closed)
    searched, sure_below = cheapest_first(sets, 10_000)
    assert sure_below == math.inf
    fronts = [
        [(sets.lost(choice), end) for choice, end in putting_off._front(sets, found)]
        for found in (searched, all_tried(sets))
    ]
    assert fronts[0] == fronts[1]
    for worth, end in fronts[0]:
        choice, sure = least_for(sets, end, 10_000)
        assert sure
        assert choice is not None
        assert (sets.lost(choice), round(float(sets.finishes([choice])[1][0]))) == (worth, end)
    assert least_for(sets, float(sets.finishes([sets.whole])[1][0]) - 1, 10_000) == (None, True)
    return fronts[0]


def three_chains(each: int) -> Situation:
    """Three people in parallel, `each` tasks each, worth as much as they take: hardly any choice beats another."""
    return situation_of(
        [
            (f"{person}-{number}", person, 1 + (number * 5 + seat * 2) % 9)
            for seat, person in enumerate(("EV1", "EV2", "ARM"))
            for number in range(each)
        ]
    )


def situation_of(tasks: list[tuple[str, str, int]]) -> Situation:
    made = [replace(task(name, [10 * worth], who=who, may_put_off=True), worth=worth) for name, who, worth in tasks]
    return Situation(Prepared(procedure(*made)), EMPTY, 0)


def test_twelve_tasks_in_three_equal_chains_are_searched_to_the_end() -> None:
    situation = three_chains(4)
    found = options(situation)
    assert (found.exact, found.of) == (True, 12)
    assert [(each.worth, each.finish_s) for each in found.options] == front_of(situation, every_choice(situation))


def test_what_the_search_gives_up_on_is_tried_whole_up_to_sixteen_tasks(monkeypatch: pytest.MonkeyPatch) -> None:
    situation = three_chains(4)
    sure = options(situation)
    monkeypatch.setattr(putting_off, "MOST_CHOICES", 3)
    assert cheapest_first(ClosedSets(situation, putting_off.candidates(situation)), 3)[1] < math.inf
    assert figures(options(situation)) == figures(sure)
    assert options(situation).exact


def test_above_sixteen_tasks_a_search_that_gave_up_says_that_it_is_not_sure(monkeypatch: pytest.MonkeyPatch) -> None:
    situation = three_chains(6)
    monkeypatch.setattr(putting_off, "MOST_CHOICES", 3)
    found = options(situation)
    assert (found.exact, found.of) == (False, 18)
    assert [each.exact for each in found.options] == sorted((each.exact for each in found.options), reverse=True)
    for each in found.options:
        assert put_off(situation, frozenset(each.tasks)).projection.end_s == each.finish_s < situation.projection.end_s


def test_seventy_tasks_are_no_trouble() -> None:
    situation = situation_of([(f"t{number}", "EV1", 1 + number % 9) for number in range(70)])
    found = options(situation)
    assert found.of == 70
    assert found.options
    for each in found.options[:5]:
        assert put_off(situation, frozenset(each.tasks)).projection.end_s == each.finish_s


@pytest.mark.parametrize("aim", ["plan", "limit"])
def test_above_sixteen_tasks_the_least_loss_for_an_aim_is_found_beyond_where_the_search_stops(
    aim: Literal["plan", "limit"], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two people with nine like tasks each, behind: what meets the aim costs more than the search looks at, and so
    many choices lose the same that it can't be sure; it is right all the same."""
    made = [replace(task(f"{who}-{n}", [100], who=who, may_put_off=True), worth=9) for who in "AB" for n in range(9)]
    late = replace(procedure(task("slow", [100], who=("A", "B")), *made), limits=Limits(700))
    run = Run(late)
    run.order(ReviseTakes("slow/1", 500, "stuck"), 10)
    situation = run.at(10)
    monkeypatch.setattr(putting_off, "MOST_CHOICES", 3)
    found = options(situation)
    assert not found.exact
    least = found.least(aim)
    assert least is not None
    assert not least.exact
    assert least.worth == {"plan": 8 * 9, "limit": 14 * 9}[aim]


def test_where_no_choice_meets_an_aim_the_most_that_can_be_won_is_among_the_options(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made = [replace(task(f"t{n}", [100], who="A", may_put_off=True), worth=9) for n in range(18)]
    late = replace(procedure(task("slow", [3000], who="A"), *made), limits=Limits(100))
    monkeypatch.setattr(putting_off, "MOST_CHOICES", 3)
    found = options(Situation(Prepared(late), EMPTY, 0))
    assert found.least("limit") is None
    assert found.options[-1].finish_s == 3000
    assert len(found.options[-1].tasks) == 18


def test_the_least_loss_for_an_aim_may_be_sure_where_the_whole_search_is_not(monkeypatch: pytest.MonkeyPatch) -> None:
    """Eighteen tasks in a row, one of which wins all that is missing for the least worth of its kind."""
    made = [replace(task(f"t{n}", [100 + 50 * n], who="A", may_put_off=True), worth=9 - n % 3) for n in range(18)]
    run = Run(procedure(task("slow", [100], who="A"), *made))
    run.order(ReviseTakes("slow/1", 900, "stuck"), 10)
    monkeypatch.setattr(putting_off, "MOST_CHOICES", 3)
    found = options(run.at(10))
    least = found.least("plan")
    assert not found.exact
    assert least is not None
    assert least.exact
    assert (least.tasks, least.worth) == (("t17",), 7)
