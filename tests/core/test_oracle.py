"""The core against a slow, literal reading of the arithmetic (`oracle`), second by second, on generated runs."""

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.core.choices import offers
from app.core.fold import fold
from app.core.procedure import Procedure
from app.core.report import plan_report, situation_report
from app.core.situation import Prepared, Situation
from tests.core.guesses import procedures, runs
from tests.core.happened import Happened
from tests.core.oracle import Oracle
from tests.core.oracle_offers import OfferOracle

SETTINGS = settings(
    max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much]
)


@SETTINGS
@given(made=procedures(get_ahead=1))
def test_the_plan_and_its_late_times_are_those_of_the_literal_reading(made: Procedure) -> None:
    report, oracle = plan_report(Prepared(made)), Oracle(made, Happened(), 0)
    assert report["plan_finish_s"] == oracle.end()
    for row in report["steps"]:
        step = row["id"]
        expected = (oracle.start(step), oracle.finish(step), oracle.late_start(step), oracle.late_finish(step))
        assert (row["start_s"], row["finish_s"], row["late_start_s"], row["late_finish_s"]) == expected, step
        assert row["float_s"] == oracle.late_start(step) - oracle.start(step)
        assert row["critical"] is (row["float_s"] == 0)


@SETTINGS
@given(data=st.data())
def test_projection_leads_and_states_are_those_of_the_literal_reading(data: st.DataObject) -> None:
    made = data.draw(procedures())
    happened, log, at_s = data.draw(runs(made))
    report = situation_report(Situation(Prepared(made), fold(log), at_s))
    oracle, planned = Oracle(made, happened, at_s), Oracle(made, Happened(), 0)
    assert report["lead_s"] == oracle.team_lead(planned.end())
    assert report["projected_finish_s"] == oracle.end()
    assert [row["id"] for row in report["steps"]] == [one.id for one in made.steps if oracle.in_run(one.id)]
    for row in report["steps"]:
        step = row["id"]
        assert (row["start_s"], row["finish_s"]) == (oracle.start(step), oracle.finish(step)), step
        assert row["state"] == oracle.state(step), step
    for person, view in report["crew"].items():
        assert view == {"lead_s": oracle.person_lead(person, planned), "next": oracle.next(person)}, person


@SETTINGS
@given(data=st.data())
def test_get_ahead_offers_are_those_of_the_literal_reading(data: st.DataObject) -> None:
    made = data.draw(procedures(get_ahead=3))
    happened, log, at_s = data.draw(runs(made))
    situation = Situation(Prepared(made), fold(log), at_s)
    oracle = OfferOracle(made, happened, at_s)
    for offer in offers(situation):
        answer = oracle.offer(offer.task)
        ours = (offer.eligible, offer.lead_after_s, offer.finish_after_s)
        assert ours == (answer.eligible, answer.lead_s, answer.finish_s), (offer, answer)
        assert (offer.reason is None) is offer.eligible
