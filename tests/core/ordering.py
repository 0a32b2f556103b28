"""A procedure to give orders on, and what a refusal must say. Shared by the tests of `decide`."""

import pytest

from app.core.commands import (
    Command,
    Refusal,
)
from app.core.procedure import Value
from tests.core.building import link, procedure, step, task
from tests.core.running import Run

MADE = procedure(
    task("a", [100, step(100, "Read the gap", record=(Value("gap", "mm", 2, 6),))], who="EV1"),
    task("b", [50], who="EV2", after=[link("a/1", 30)]),
    task("stop", [step(60, "All clear?", go=("EV1", "EV2"))], who="ARM", after=["a"]),
    task("survey", [300], who="EV2", after=["b"], may_put_off=True),
    task("lamp", [100], who="EV2", after=["survey"], may_put_off=True),
    task("must", [100], who="EV1", after=["stop"]),
    task("early", [40], who="GROUND", may_put_off=True),
    task("late", [40], who="GROUND", after=["early"]),
    task("come-in", [100], who=("EV1", "EV2"), after=["must", "lamp", "late"]),
    task("tray", [60], who="ARM", after=["a"], get_ahead=True),
    close_out="come-in",
)


def refused(run: Run, command: Command, now_s: int, at_s: int | None = None) -> Refusal:
    length = len(run.log)
    with pytest.raises(Refusal) as caught:
        run.order(command, now_s, at_s)
    assert len(run.log) == length
    assert str(caught.value)[-1] in ".;!"
    return caught.value


def expect_refusal(run: Run, command: Command, now_s: int, code: str, *words: str, at_s: int | None = None) -> Refusal:
    refusal = refused(run, command, now_s, at_s)
    assert refusal.code == code
    for word in words:
        assert word in str(refusal)
    return refusal
