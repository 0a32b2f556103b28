"""Optional work: where it may stand, and why not now, in words."""

import pytest

from app.core.choices import gaps, goes_with, offers
from app.core.commands import EndRun, GiveBackWork, PutOff, RecordStart, SetNotNeeded, TakeWork
from app.core.procedure import Procedure, Task
from tests.core.building import link, procedure, step, task
from tests.core.running import Run


def _outing(*extra: Task, finish_s: int | None = None, least_lead_s: int = 0) -> Procedure:
    """EV1: out, then work not before 0:10, then in. EV2 works until 0:20, so EV1 has room."""
    return procedure(
        task("out", [200], who="EV1"),
        task("work", [200], who="EV1", not_before_s=600),
        task("long", [1200], who="EV2"),
        task("in", [300], who=("EV1", "EV2"), after=["work"]),
        *extra,
        close_out="in",
        finish_s=finish_s,
        least_lead_s=least_lead_s,
    )


TRAY = task("tray", [300], who="EV1", get_ahead=True)


def test_the_best_place_is_the_earliest_of_those_that_leave_the_largest_lead() -> None:
    (offer,) = offers(Run(_outing(TRAY)).at(0))
    assert (offer.places, offer.lead_after_s, offer.finish_after_s, offer.eligible) == (
        (("EV1", "work"),),
        0,
        1500,
        True,
    )
    assert (offer.who, offer.takes_s, offer.was_put_off) == (("EV1",), 300, False)


def test_a_later_gap_is_better_where_the_earlier_one_costs_lead() -> None:
    made = procedure(
        task("a", [100], who="EV1"),
        task("b", [100], who="EV1"),
        task("c", [500], who="EV2", after=["b"]),
        task("in", [100], who=("EV1", "EV2")),
        TRAY,
        close_out="in",
    )
    (offer,) = offers(Run(made).at(0))
    assert (offer.places, offer.lead_after_s) == ((("EV1", "in"),), 0)


def test_gaps_lie_after_work_begun_and_before_close_out() -> None:
    run = Run(_outing(TRAY))
    assert gaps(run.at(0), "EV1") == ["work", "in"]
    assert gaps(run.at(0), "EV2") == ["in"]
    assert gaps(run.at(200), "EV1") == ["work", "in"]
    run.mark(out_1=200)
    assert gaps(run.at(599), "EV1") == ["work", "in"]
    assert gaps(run.at(600), "EV1") == ["in"]  # The work is taken to be under way.
    run.order(RecordStart("work/1"), 610)
    assert gaps(run.at(610), "EV1") == ["in"]


def test_without_close_out_the_last_gap_is_the_end_of_the_list() -> None:
    made = procedure(task("a", [10], who="EV1"), task("b", [10], who="EV1"), TRAY)
    assert gaps(Run(made).at(0), "EV1") == ["b", None]


def test_once_close_out_has_begun_no_place_is_left() -> None:
    run = Run(_outing(TRAY)).mark(out_1=200, work_1=800, long_1=1200)
    assert gaps(run.at(1200), "EV1") == []
    (offer,) = offers(run.at(1200))
    assert (offer.eligible, offer.places, offer.lead_after_s) == (False, (), None)
    assert offer.reason == "no place is left before close-out"


def test_who_is_through_with_their_part_of_close_out_gets_no_more_work() -> None:
    made = procedure(
        task("a", [100], who="EV1"),
        task("in", [step(50, who="EV1"), step(500, who="EV2")]),
        TRAY,
        close_out="in",
    )
    run = Run(made).mark(a_1=100, in_1=150)
    assert gaps(run.at(150), "EV1") == []


def test_close_out_that_is_done_or_not_needed_leaves_no_place_after_it() -> None:
    made = procedure(task("a", [100], who="EV1"), task("in", [50, 50], who="EV1"), TRAY, close_out="in")
    run = Run(made).mark(a_1=100, in_1=150)
    run.order(SetNotNeeded("in/2", "open hatch"), 160)
    assert gaps(run.at(160), "EV1") == []


def test_an_item_for_two_is_tried_at_every_pair_of_gaps() -> None:
    made = procedure(
        task("a", [100], who="EV1"),
        task("b", [100], who="EV1", not_before_s=400),
        task("c", [300], who="EV2"),
        task("d", [100], who="EV2", not_before_s=600),
        task("two", [100], who=("EV1", "EV2"), get_ahead=True),
    )
    (offer,) = offers(Run(made).at(0))
    assert (offer.places, offer.lead_after_s) == ((("EV1", "b"), ("EV2", "d")), 0)


def test_an_item_for_nobody_in_particular_has_no_place_to_look_for() -> None:
    made = procedure(task("a", [100]), task("pump", [50], get_ahead=True))
    (offer,) = offers(Run(made).at(0))
    assert (offer.eligible, offer.places, offer.finish_after_s) == (True, (), 100)


# Reasons


def _reason(run: Run, now_s: int) -> str | None:
    (offer,) = offers(run.at(now_s))
    assert offer.eligible is (offer.reason is None)
    return offer.reason


def test_while_the_team_is_behind_the_reason_says_by_how_much() -> None:
    run = Run(_outing(TRAY)).mark(out_1=200)
    assert _reason(run, 800) is None
    assert _reason(run, 1305) == "the team is 1m 45s behind"


def test_less_lead_than_asked_for_is_a_reason() -> None:
    run = Run(_outing(TRAY, least_lead_s=300))
    assert _reason(run, 0) == "the team is on plan; at least 5m ahead is asked for"
    run.mark(out_1=200, work_1=700, long_1=899)
    run.order(SetNotNeeded("in/1", "stay out"), 899)
    assert run.at(899).lead_s >= 300
    assert _reason(run, 899) == "no place is left before close-out"


def test_an_open_prerequisite_is_named() -> None:
    item = task("tray", [300], who="EV1", after=["work"], get_ahead=True)
    assert _reason(Run(_outing(item)), 0) == "waits for EV1: “Do work 1” (work/1)"


def test_a_prerequisite_that_was_put_off_is_not_done() -> None:
    made = procedure(
        task("long", [900], who="EV2"),
        task("survey", [100], who="EV1", may_put_off=True),
        task("lamp", [100], who="EV1", after=["survey"], may_put_off=True),
        task("tray", [100], who="EV1", after=["survey"], get_ahead=True),
    )
    run = Run(made)
    run.order(PutOff("survey", "late"), 0)
    survey, lamp, tray = offers(run.at(0))
    assert (survey.task, survey.was_put_off, survey.eligible) == ("survey", True, True)
    assert (lamp.task, lamp.was_put_off) == ("lamp", True)
    assert lamp.reason == tray.reason == "waits for EV1: “Do survey 1” (survey/1), which was put off"


def test_a_prerequisite_that_is_not_needed_stands_for_its_own() -> None:
    made = procedure(
        task("a", [100], who="EV1"),
        task("b", [100], who="EV2", after=["a"]),
        task("tray", [50], who="ARM", after=["b"], get_ahead=True),
    )
    run = Run(made)
    run.order(SetNotNeeded("b/1", "cut"), 0)
    assert _reason(run, 50) == "waits for EV1: “Do a 1” (a/1)"
    assert _reason(run.mark(a_1=60), 60) is None


def test_a_person_who_is_behind_on_their_own_list_gets_no_more_work() -> None:
    made = procedure(task("a", [100], who="EV1"), task("long", [900], who="EV2"), TRAY, on_plan_within_s=30)
    assert _reason(Run(made), 130) is None
    assert _reason(Run(made), 131) == "EV1 is 31s behind"


def test_nobody_is_called_away_from_a_hold() -> None:
    made = procedure(
        task("stop", [step(100, go=("EV2",))], who="EV1"), task("b", [10], who="EV1"), task("z", [900], who="EV2"), TRAY
    )
    assert _reason(Run(made), 10) == "EV1 is at a hold (stop/1)"


def test_an_item_that_would_leave_the_team_behind_says_by_how_much() -> None:
    made = procedure(
        task("a", [100], who="EV1"), task("b", [100], who="EV1"), task("in", [100], who="EV1"), TRAY, close_out="in"
    )
    run = Run(made)
    assert _reason(run, 0) == "would leave the team 5m behind"
    (offer,) = offers(run.at(0))
    assert (offer.lead_after_s, offer.finish_after_s) == (-300, 600)


def test_close_out_must_still_end_by_the_limit() -> None:
    assert _reason(Run(_outing(TRAY, finish_s=1500)), 0) is None
    assert _reason(Run(_outing(TRAY, finish_s=1499)), 0) == "close-out would end at 00:25:00, 1s after the limit"


def test_an_item_whose_window_is_over_is_not_eligible() -> None:
    made = procedure(
        task("long", [900], who="EV2"),
        task("tray", [100], who="EV1", within="day", get_ahead=True),
        windows={"day": [(0, 200)]},
        crew=("EV1", "EV2"),
    )
    assert _reason(Run(made), 100) is None
    assert _reason(Run(made), 101) == "no window is left that it fits"


def test_an_item_cannot_start_before_it_is_taken() -> None:
    made = procedure(task("long", [900], who="EV2"), task("tray", [100], who="EV1", get_ahead=True))
    run = Run(made)
    run.order(TakeWork("tray"), 300)
    assert run.at(320).projection.times(1) == (300, 400)


def test_work_that_was_put_off_comes_before_get_ahead_items_and_taken_work_is_not_offered() -> None:
    made = procedure(TRAY, task("a", [100], who="EV1", may_put_off=True), task("z", [900], who="EV2"))
    run = Run(made)
    run.order(PutOff("a", "late"), 0)
    assert [offer.task for offer in offers(run.at(0))] == ["a", "tray"]
    run.order(TakeWork("tray"), 0)
    assert [offer.task for offer in offers(run.at(0))] == ["a"]
    run.order(GiveBackWork("tray"), 0)
    assert [offer.task for offer in offers(run.at(0))] == ["a", "tray"]


def test_a_step_not_needed_of_work_put_off_takes_no_time_in_the_offer_nor_when_it_is_taken() -> None:
    made = procedure(task("z", [900], who="EV2"), task("s", [100, 100], who="EV1", may_put_off=True))
    run = Run(made)
    run.order(SetNotNeeded("s/1", "cut"), 0)
    run.order(PutOff("s", "late"), 0)
    (offer,) = offers(run.at(850))
    assert offer.finish_after_s == 950
    run.order(SetNotNeeded("z/1", "cut"), 0)
    run.order(TakeWork("s"), 500)
    assert run.at(500).projection.end_s == 600


def test_nothing_is_offered_when_the_run_has_ended() -> None:
    run = Run(_outing(TRAY))
    run.order(EndRun("over"), 10)
    assert _reason(run, 10) == "the run has ended"


# What goes along


@pytest.mark.parametrize(
    ("name", "along", "bars"),
    [("a", ("a", "b"), ("m", "n")), ("b", ("b",), ("m", "n")), ("x", ("x",), ()), ("m", ("m",), ("n",))],
)
def test_what_depends_on_a_task_goes_along_or_stands_in_the_way(
    name: str, along: tuple[str, ...], bars: tuple[str, ...]
) -> None:
    made = procedure(
        task("a", may_put_off=True),
        task("x", may_put_off=True),
        task("b", after=[link("a/1", 60)], may_put_off=True),
        task("m", [60, step(60, after=["b"])]),
        task("n", after=["m"]),
        task("in", after=["n", "x", "b"]),
        task("later", after=["in"]),
        task("g", after=["a"], get_ahead=True),
        close_out="in",
    )
    assert goes_with(made, name) == (along, bars)


def test_an_item_that_would_itself_end_after_the_limit_is_not_eligible_and_says_so() -> None:
    made = procedure(
        task("a", [100], who="EV1"), task("extra", [500], who="EV2", get_ahead=True), crew=("EV1", "EV2"), finish_s=400
    )
    assert _reason(Run(made), 0) == "it would end at 00:08:20, 1m 40s after the limit"
