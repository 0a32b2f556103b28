"""Any sequence of calls, counts, answers, corrections and undoings, held against `ledger`, and then to the second
against the literal reading of the arithmetic (`oracle`).
"""

from dataclasses import replace
from random import Random

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.core.commands import (
    GiveGo,
    GiveNoGo,
    MarkStep,
    RecordStart,
    Refusal,
    ReopenStep,
    SetNotNeeded,
    UndoMark,
)
from app.core.commands_live import AcceptValues, AcknowledgeWarning, ConfirmStep, CorrectMark, CountAction
from app.core.events import VERSION, Logged, body_of, event_from, kind_of
from app.core.fold import fold
from app.core.procedure import Procedure, Step, Value
from app.core.report import situation_report
from app.core.situation import Situation
from tests.core.guesses import CREW, procedures
from tests.core.happened import Happened
from tests.core.ledger import Ledger, StepOrder
from tests.core.oracle import Oracle
from tests.core.running import Run, last_press

SETTINGS = settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
GAP = (Value("gap", "mm", 2, 6),)


@st.composite
def live_procedures(draw: st.DrawFn) -> Procedure:
    """Small procedures in which most steps have something that stands between a call and a mark."""
    made = draw(procedures(get_ahead=0))
    return replace(made, tasks=tuple(replace(t, steps=tuple(_live(draw, one) for one in t.steps)) for t in made.tasks))


def _live(draw: st.DrawFn, step: Step) -> Step:
    others = [None, None, None, *(person for person in CREW if person not in step.who)]
    return replace(
        step,
        warning=draw(st.sampled_from(["", "", "", "Hot."])),
        record=draw(st.sampled_from([(), (), GAP])),
        count=draw(st.sampled_from([None, None, 2, 3])),
        confirm_by=draw(st.sampled_from(others)),
    )


def _command(rng: Random, run: Run, step: Step) -> StepOrder:
    """An order about this step, mostly one that fits how far it is."""
    who = rng.choice(step.who or CREW)
    values = rng.choice([(("gap", 4.0),), (("gap", 9.0),), (("gap", 9.0),), (("gap", 5.0),), ()]) if step.record else ()
    back: list[StepOrder] = [
        GiveNoGo(step.id, "EV2", "wind"),
        UndoMark(step.id),
        ReopenStep(step.id, "slip"),
        CorrectMark(step.id, "misread", values, rng.random() < 0.5),
        CorrectMark(step.id, "misread"),
        RecordStart(step.id),
        SetNotNeeded(step.id, "cut"),
    ]
    if rng.random() < 0.2:
        return rng.choice(back)
    progress = run.state.progress
    if step.id in run.state.done:
        return back[rng.choice([1, 3, 4, 3, 4])]
    if step.id in progress.called and rng.random() < 0.7:
        second = step.confirm_by if step.confirm_by and rng.random() < 0.8 else who
        answers: list[StepOrder] = [AcceptValues(step.id, "worn"), ConfirmStep(step.id, second)]
        return rng.choice(answers)
    reason = rng.choice([None, None, None, "the lead says so"])
    next_one = len(progress.counts.get(step.id, ())) + rng.choice([1, 1, 1, 1, 1, 0, 2])
    forward: list[StepOrder] = [MarkStep(step.id, values, reason), CountAction(step.id, next_one, values)]
    if step.warning:
        forward.append(AcknowledgeWarning(step.id, who))
    if step.go:
        forward.append(GiveGo(step.id, "EV2", rng.choice(["", "lifted"])))
    return rng.choice(forward)


def _driven(data: st.DataObject) -> tuple[Procedure, Run, Ledger]:
    """A run and its ledger after the same orders: each is taken by both or by neither.

    The orders come from a seed and not one by one from hypothesis, which would keep nearly all runs short.
    """
    made, rng = data.draw(live_procedures()), Random(data.draw(st.integers(0, 2**32)))
    run, ledger, now_s = Run(made), Ledger(made), 0
    for _ in range(rng.randrange(60)):
        now_s += rng.choice([0, 0, 1, 3, 8, 30])
        ahead = [one for one in made.steps if one.id not in run.state.done and not ledger.barred(one, now_s)]
        step = rng.choice(ahead if ahead and rng.random() < 0.8 else made.steps)
        command = _command(rng, run, step)
        back_s = 0 if isinstance(command, UndoMark | ReopenStep) else rng.choice([0, 0, 0, 5, 20])
        at_s = max(0, now_s - back_s)
        refused = ""
        try:
            run.order(command, now_s, at_s)
        except Refusal as refusal:
            refused = f"{refusal.code}: {refusal}"
        assert ledger.give(command, at_s) is not bool(refused), (command, at_s, refused)
        _agree(run, ledger)
    run.now_s = now_s
    return made, run, ledger


def _agree(run: Run, ledger: Ledger) -> None:
    state = run.state
    assert {step: (mark.at_s, dict(mark.values)) for step, mark in state.done.items()} == {
        step: (entry.at_s, entry.values) for step, entry in ledger.done.items()
    }
    assert {
        step: (call.at_s, dict(call.values), call.accepted_s, call.confirmed_s)
        for step, call in state.progress.called.items()
    } == {
        step: (entry.at_s, entry.values, entry.accepted_s, entry.confirmed_s) for step, entry in ledger.called.items()
    }
    counted = {step: [action.at_s for action in actions] for step, actions in state.progress.counts.items() if actions}
    assert counted == {step: [at_s for at_s, _ in actions] for step, actions in ledger.counts.items() if actions}


@SETTINGS
@given(data=st.data())
def test_orders_about_steps_are_taken_and_refused_as_the_rules_in_words_say(data: st.DataObject) -> None:
    made, run, ledger = _driven(data)
    happened = Happened(
        done={step: entry.at_s for step, entry in ledger.done.items()},
        started=ledger.started,
        not_needed=frozenset(ledger.not_needed),
        off_since=ledger.not_needed,
    )
    report, oracle = situation_report(run.at(run.now_s)), Oracle(made, happened, run.now_s)
    assert report["projected_finish_s"] == oracle.end()
    for row in report["steps"]:
        step = row["id"]
        assert (row["start_s"], row["finish_s"]) == (oracle.start(step), oracle.finish(step)), step
        assert row["state"] == oracle.state(step), step


@SETTINGS
@given(data=st.data())
def test_a_log_read_back_is_the_state_that_was_live_whole_or_in_pieces(data: st.DataObject) -> None:
    _, run, _ = _driven(data)
    read = [_read_back(each) for each in run.log]
    cut = data.draw(st.integers(0, len(read)))
    assert fold(read) == fold(read[cut:], fold(read[:cut])) == run.state


def _read_back(logged: Logged) -> Logged:
    return logged._replace(event=event_from(kind_of(logged.event), VERSION, body_of(logged.event)))


@SETTINGS
@given(data=st.data())
def test_a_past_second_never_shows_a_step_done_later_nor_done_and_called_at_once(data: st.DataObject) -> None:
    _, run, _ = _driven(data)
    for second in sorted({0, *(each.at_s for each in run.log), *(each.at_s + 1 for each in run.log)}):
        state = fold(run.log, until_s=second)
        assert all(mark.at_s <= second for mark in state.done.values())
        assert not set(state.done) & set(state.progress.called)
        Situation(run.prepared, state, second)


@SETTINGS
@given(data=st.data())
def test_what_is_offered_to_undo_can_be_undone(data: st.DataObject) -> None:
    _, run, _ = _driven(data)
    for person in (*(each.designator for each in run.prepared.procedure.crew), None):
        press = last_press(run.at(run.now_s), person)
        if press is not None:
            again = Run(run.prepared.procedure)
            again.log = list(run.log)
            assert again.order(UndoMark(press.step), run.now_s)
