"""One arithmetic: the live screens, a past moment, and `leadline project` agree to the second at equal events."""

import json
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from app.cli import cli
from app.core.commands import Command, GiveGo, MarkStep, Refusal
from app.core.commands_live import AcknowledgeWarning
from app.core.report import situation_report
from app.core.times import clock as clock_words
from app.service.runs import Service
from tests.core.running import orders_for
from tests.service.making import SAMPLES, SetClock, done, sender, store

FILE = SAMPLES / "pump-changeout.yaml"


def _orders(draw: st.DataObject, service: Service, run: int) -> list[Command]:
    """A mark that may be given or not, with the go that a hold needs before it, and whatever else it takes."""
    situation = service.situation(run)
    nominal = [step for step in situation.procedure.steps if not situation.procedure.task(step.task).get_ahead]
    left = [step for step in nominal if step.id not in situation.state.done]
    ready = [step for step in left if not situation.open_before(situation.network.index[step.id])]
    step = draw.draw(st.sampled_from((ready if draw.draw(st.integers(0, 5)) else left) or nominal))
    return [*(GiveGo(step.id, person) for person in step.go), *orders_for(situation, step.id)]


def _drive(draw: st.DataObject, service: Service, clock: SetClock, run: int) -> None:
    for _ in range(draw.draw(st.integers(0, 25))):
        clock.at_s += draw.draw(st.integers(1, 1_500))
        back_s = draw.draw(st.sampled_from([0, 0, 0, 200]))
        for command in _orders(draw, service, run):
            at_s = max(0, int(clock.at_s) - back_s) if isinstance(command, AcknowledgeWarning | MarkStep) else None
            assert isinstance(service.order(run, command, sender(), at_s).exception(), Refusal | None)


def _projected(folder: Path, marks: dict[str, int], at_s: int) -> dict[str, object]:
    """What the command line says of the same marks, through its own reading of the two files."""
    file = folder / "marks.csv"
    file.write_text("step,at\n" + "".join(f"{step},{clock_words(marked_s)}\n" for step, marked_s in marks.items()))
    said = CliRunner().invoke(cli, ["project", str(FILE), "--marks", str(file), "--at", clock_words(at_s), "--json"])
    assert said.exit_code == 0, said.output
    found: dict[str, object] = json.loads(said.stdout)
    return found


@settings(max_examples=15, deadline=None)
@given(draw=st.data())
def test_live_past_and_project_agree_to_the_second(draw: st.DataObject) -> None:
    with TemporaryDirectory() as name, store(Path(name)) as opened:
        clock = SetClock()
        service = Service(opened, clock.server())
        run = service.start_run(service.shelf.load(FILE.read_bytes(), FILE.name).hash, "rehearsal", sender())
        _drive(draw, service, clock, run)
        clock.at_s += draw.draw(st.integers(0, 2_000))
        now_s = int(clock.at_s)
        live = situation_report(service.situation(run))
        done = {step: mark.at_s for step, mark in service.run(run).state.done.items()}
        assert live == situation_report(service.situation(run, now_s))
        assert live == _projected(Path(name), done, now_s)
        past_s = draw.draw(st.integers(0, now_s))
        past = situation_report(service.situation(run, past_s))
        assert past == _projected(Path(name), done, past_s)


@settings(max_examples=10, deadline=None)
@given(draw=st.data())
def test_what_a_screen_showed_live_is_what_the_same_second_shows_afterwards(draw: st.DataObject) -> None:
    """Nothing heard late: then what was known at a second is what had happened by it."""
    with TemporaryDirectory() as name, store(Path(name)) as opened:
        clock, shown = SetClock(), dict[int, object]()
        service = Service(opened, clock.server())
        run = service.start_run(service.shelf.load(FILE.read_bytes(), FILE.name).hash, "rehearsal", sender())
        for _ in range(draw.draw(st.integers(1, 12))):
            clock.at_s += draw.draw(st.integers(1, 1_500))
            for command in _orders(draw, service, run):
                service.order(run, command, sender()).exception()
            shown[int(clock.at_s)] = situation_report(service.situation(run))
        assert shown == {second: situation_report(service.situation(run, second)) for second in shown}


def test_a_restart_shows_the_same_second_the_same(tmp_path: Path) -> None:
    clock = SetClock()
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        run = service.start_run(service.shelf.load(FILE.read_bytes(), FILE.name).hash, "rehearsal", sender())
        for at_s, step in ((620, "go-out/1"), (1_300, "go-out/2"), (1_900, "unplug/1")):
            clock.at_s = at_s
            done(service, run, step)
        before, state = situation_report(service.situation(run)), service.run(run).state
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        assert situation_report(service.situation(run)) == before
        assert service.run(run).state == state
