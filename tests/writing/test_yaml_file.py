"""The YAML text of a procedure reads back as the same procedure."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.core.procedure import Procedure
from app.core.times import read_clock, read_duration
from app.reading.procedure_reader import read_procedure
from app.settings import HOME
from app.writing.yaml_file import clock_text, duration_text, yaml_text
from tests.writing.full import full_procedures


@given(full_procedures())
@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
def test_any_procedure_survives_yaml(made: Procedure) -> None:
    reading = read_procedure(yaml_text(made))
    assert reading.procedure == made, reading.faults


@pytest.mark.parametrize("path", sorted((HOME / "procedures").glob("*.yaml")), ids=lambda path: path.stem)
def test_the_samples_survive_without_a_remark(path: Path) -> None:
    made = read_procedure(path.read_bytes()).procedure
    assert made is not None
    reading = read_procedure(yaml_text(made))
    assert (reading.procedure, reading.faults) == (made, ())


@given(st.integers(0, 3_600_000))
def test_times_read_back(seconds: int) -> None:
    assert read_duration(duration_text(seconds)) == seconds
    assert read_clock(clock_text(seconds)) == seconds


def test_a_heading_is_a_comment_whatever_it_holds() -> None:
    made = read_procedure((HOME / "procedures" / "pump-changeout.yaml").read_bytes()).procedure
    assert made is not None
    text = yaml_text(made, "From run 3\ntasks: [nonsense\r\n- x")
    assert text.startswith("# From run 3\n# tasks: [nonsense\n# - x\nprocedure: pump-changeout\n")
    assert read_procedure(text).procedure == made
