"""Durations over stored runs: which runs are asked, what the fixed JSON holds, and the text that comes of it."""

from pathlib import Path

import pytest

from app.core.commands import Refusal
from app.reading.procedure_reader import read_procedure
from app.service import durations as subject
from app.service.durations import Asked, draft, durations_report, find
from app.service.runs import Service
from app.store.faults import RunDamaged
from tests.service.making import SMALL, SetClock, small_run, store
from tests.service.past_runs import MARKS, past_run, past_runs

OTHER = SMALL.replace(b"procedure: mast", b"procedure: pole")
REWORDED = SMALL.replace(b"Open the box", b"Open the crate")

STEP_KEYS = {
    *("id", "do", "who", "planned", "n", "median_s", "low_s", "high_s", "ratio", "took", "left_out"),
    *("planned_median_s", "ratio_to_median"),
    *("proposed", "weight", "changed", "reason"),
}


def _row(service: Service, step: str, asked: Asked = Asked()) -> dict[str, object]:  # noqa: B008 - a frozen value
    rows = durations_report(find(service, "mast", asked))["steps"]
    return next(each for each in rows if each["id"] == step)


def test_all_runs_of_the_procedure_are_asked_or_those_of_a_kind_or_those_named(tmp_path: Path) -> None:
    clock = SetClock()
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        runs = past_runs(service, clock)
        past_run(service, clock, MARKS[0], text=OTHER)
        for asked, chosen in {
            Asked(): [3, 2, 1],
            Asked("rehearsal"): [2, 1],
            Asked("live"): [3],
            Asked("both", (1, 3)): [3, 1],
            Asked("live", (1, 3)): [3],
        }.items():
            found = find(service, "mast", asked)
            assert [each.stored.run for each in found.runs if each.asked] == chosen
            assert {each.stored.run for each in found.runs} == set(runs)


def test_the_figures_are_those_of_the_marks(tmp_path: Path) -> None:
    clock = SetClock()
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        past_runs(service, clock)
        row = _row(service, "rig/1")
        assert row.keys() == STEP_KEYS
        assert (row["n"], row["median_s"], row["low_s"], row["high_s"]) == (3, 380, 364, 396)
        assert row["ratio"] == pytest.approx(380 / 300, abs=1e-4)
        assert row["took"] == [{"run": 3, "took_s": 380}, {"run": 2, "took_s": 400}, {"run": 1, "took_s": 360}]
        paint = _row(service, "paint/1")
        assert paint["left_out"] == [{"run": 3, "why": "not marked"}]
        assert paint["took"] == [{"run": 2, "took_s": 550}, {"run": 1, "took_s": 680}]
        sweep = _row(service, "sweep/1")
        assert (sweep["n"], sweep["median_s"], sweep["changed"], sweep["proposed"]) == (
            0,
            None,
            False,
            sweep["planned"],
        )


def test_the_json_has_fixed_keys(tmp_path: Path) -> None:
    clock = SetClock()
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        past_runs(service, clock)
        said = durations_report(find(service, "mast", Asked()))
        assert said.keys() == {"revision", "procedure", "title", "kind", "simulated", "runs", "steps"}
        assert said["runs"][0] == {
            "run": 3,
            "kind": "live",
            "revision": said["revision"],
            "ended": True,
            "asked": True,
            "why": None,
        }


def test_a_run_of_another_revision_counts_for_the_steps_that_are_the_same_work(tmp_path: Path) -> None:
    clock = SetClock()
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        past_run(service, clock, MARKS[0])
        past_run(service, clock, MARKS[1], text=REWORDED)
        found = find(service, "mast", Asked())
        assert found.stored.text == REWORDED.decode(), "the last loaded"
        assert [each.same_revision for each in found.runs] == [True, False]
        assert _row(service, "rig/1")["left_out"] == [{"run": 1, "why": "its revision has no such step"}]
        assert _row(service, "rig/2")["n"] == 2


def test_what_simulated_people_did_is_left_out_unless_it_is_asked_for(tmp_path: Path) -> None:
    clock = SetClock()
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        past_run(service, clock, MARKS[0], players=("EV1",))
        found = find(service, "mast", Asked())
        assert found.simulated_left_out == (1,)
        assert (_row(service, "rig/1")["n"], _row(service, "wire/1")["n"]) == (0, 1)
        assert not find(service, "mast", Asked(simulated=True)).simulated_left_out
        assert _row(service, "rig/1", Asked(simulated=True))["median_s"] == 360


def test_a_run_that_goes_on_tells_what_is_done(tmp_path: Path) -> None:
    clock = SetClock()
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        small_run(service)
        found = find(service, "mast", Asked())
        assert [each.ended for each in found.runs] == [False]
        assert all(each.sample is None for each in found.steps)


def test_only_the_newest_runs_are_asked_and_the_others_say_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(subject, "MOST_RUNS", 2)
    clock = SetClock()
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        past_runs(service, clock)
        found = find(service, "mast", Asked())
        assert [(each.stored.run, each.asked) for each in found.runs] == [(3, True), (2, True), (1, False)]
        assert found.runs[2].why == "only the newest 2 are asked"


def test_a_run_that_can_not_be_read_is_left_out_in_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = SetClock()
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        past_runs(service, clock)
        read = service.run

        def damaged(run: int) -> object:
            if run == 2:
                raise RunDamaged("damaged")
            return read(run)

        monkeypatch.setattr(service, "run", damaged)
        found = find(service, "mast", Asked())
        assert [each.asked for each in found.runs] == [True, False, True]
        assert "leadline verify 2" in found.runs[1].why
        assert _row(service, "rig/1")["n"] == 2


def test_an_unknown_kind_and_a_strange_run_are_refused(tmp_path: Path) -> None:
    clock = SetClock()
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        past_run(service, clock, MARKS[0])
        past_run(service, clock, MARKS[0], text=OTHER)
        for asked, code in (
            (Asked("dry"), "unknown-kind"),
            (Asked(runs=(2,)), "unknown"),
            (Asked(runs=(9,)), "unknown"),
        ):
            with pytest.raises(Refusal) as refused:
                find(service, "mast", asked)
            assert refused.value.code == code


def test_a_draft_says_what_was_chosen_and_differs_there_alone(tmp_path: Path) -> None:
    clock = SetClock()
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        past_runs(service, clock)
        found = find(service, "mast", Asked())
        made = draft(found, ("rig/1", "sweep/1"))
        assert made.steps == ("rig/1",), "for sweep/1 nothing is proposed"
        procedure = read_procedure(made.text).procedure
        assert procedure is not None
        proposed = next(each for each in found.proposals if each.step.id == "rig/1")
        assert procedure.steps[0].takes == proposed.takes
        assert [line for line in made.difference.splitlines() if line.startswith("-")][1:] == [
            "-      - {do: Open the box, takes: 5 min}"
        ]
        assert made.source == "mast.yaml, durations from runs"
        loaded = service.shelf.load(made.text.encode(), made.source)
        assert (loaded.hash, loaded.is_new) == (made.hash, True)
        assert draft(find(service, "mast", Asked(runs=(1, 2, 3))), ("rig/2",)).source == made.source, "said once"
        assert find(service, "mast", Asked()).stored.hash == made.hash


def test_runs_that_may_be_in_the_plan_already_count_only_if_they_are_chosen(tmp_path: Path) -> None:
    """Else one run would pull the plan to itself by being stored again and again."""
    clock = SetClock()
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        runs = past_runs(service, clock)
        made = draft(find(service, "mast", Asked()), ("rig/1",))
        clock.at_s += 60
        service.shelf.load(made.text.encode(), made.source)
        again = find(service, "mast", Asked())
        assert [(each.asked, each.why) for each in again.runs] == [(False, subject.WEIGHED)] * 3
        assert again.changed == ()
        clock.at_s += 60
        newer = past_run(service, clock, MARKS[0])
        assert [each.stored.run for each in find(service, "mast", Asked()).runs if each.asked] == [newer]
        chosen = find(service, "mast", Asked(runs=runs))
        assert sum(each.asked for each in chosen.runs) == 3


def test_a_step_whose_duration_can_not_be_edited_is_left_out_and_the_others_are_not(tmp_path: Path) -> None:
    clock = SetClock()
    block = SMALL.replace(
        b"- {do: Open the box, takes: 5 min}", b"- do: Open the box\n        takes: >\n          5 min"
    )
    assert block != SMALL
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        past_run(service, clock, MARKS[0], text=block)
        found = find(service, "mast", Asked())
        made = draft(found, ("rig/1", "rig/2"))
        assert made.steps == ("rig/2",)
        assert made.left_out == ("The duration of rig/1 stands in the text as a block. Write it on one line first.",)
        with pytest.raises(Refusal, match="as a block"):
            draft(found, ("rig/1",))


def test_without_a_proposal_there_is_no_draft(tmp_path: Path) -> None:
    clock = SetClock()
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        past_runs(service, clock)
        found = find(service, "mast", Asked())
        for steps in ((), ("sweep/1",), ("none/9",)):
            with pytest.raises(Refusal, match="the plan stands"):
                draft(found, steps)
