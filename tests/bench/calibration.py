"""``python -m tests.bench.calibration``: whether the forecast keeps its word on runs that go as its own model says.

A run is one draw from zero. It is cut at a random moment, what is done by then is marked, and the forecast made there
is asked how likely it held an earlier finish than the true one. Over many runs that figure must be spread evenly.
It says nothing of real crews: only that the forecast's parts (pace so far, remainder, merging) fit one another.
"""

import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from app.core.forecast import Draws
from app.core.procedure import Procedure
from app.core.situation import Prepared, Situation
from app.core.state import EMPTY, Done, State
from app.reading.procedure_reader import read_procedure
from tests.core.building import procedure, task

SAMPLE = Path(__file__).parent.parent.parent / "procedures" / "pump-changeout.yaml"
RUNS = 1000
DRAWS = 1000
CUT = (0.05, 0.9)
"""Runs are cut between these shares of their true finish."""


@dataclass(frozen=True, slots=True)
class Shares:
    """Of the runs: how many finished before the tenth percentile, between it and the ninetieth, after that."""

    below: float
    inside: float
    above: float


def sample() -> Procedure:
    """The pump changeout that is shipped. Raises ValueError when the reader refuses it."""
    reading = read_procedure(SAMPLE.read_bytes())
    if reading.procedure is None:
        raise ValueError(reading.faults)
    return reading.procedure


def random_procedure(generator: np.random.Generator, tasks: int = 12, steps: int = 5) -> Procedure:
    """Tasks of one or two of four people, some waiting for one or two earlier ones."""
    made = []
    for number in range(tasks):
        people = generator.choice(4, size=generator.choice([1, 1, 1, 2]), replace=False)
        after = generator.choice(number, size=min(number, int(generator.integers(0, 3))), replace=False)
        takes = [int(each) for each in generator.integers(60, 1200, size=steps)]
        who = tuple(f"P{each}" for each in sorted(people))
        made.append(task(f"t{number}", takes, who=who, after=[f"t{each}" for each in sorted(after)]))
    return procedure(*made)


def places(of: Procedure, seed: int, runs: int = RUNS, draws: int = DRAWS) -> NDArray[np.float64]:
    """[runs]: the share of the draws that finish before the true end, each from one cut."""
    prepared = Prepared(of)
    truth = Draws(Situation(prepared, EMPTY, 0), np.random.default_rng(seed), runs)
    kernel = truth.kernel()
    finishes = kernel.finishes(truth.durations)
    ends = kernel.last_finish(finishes)
    cuts = np.random.default_rng(seed + 1).uniform(*CUT, size=runs) * ends
    found = np.empty(runs)
    for run in range(runs):
        situation = _cut(prepared, finishes[run], int(cuts[run]))
        drawn = Draws(situation, np.random.default_rng([seed, run]), draws)
        kernel = drawn.kernel()
        found[run] = np.mean(kernel.last_finish(kernel.finishes(drawn.durations)) < ends[run])
    return found


def _cut(prepared: Prepared, finishes: NDArray[np.floating], at_s: int) -> Situation:
    """The run at `at_s`, with what is finished by then marked to the second."""
    done = {
        prepared.network.steps[step].id: Done(round(float(finishes[step])), seq, "")
        for seq, step in enumerate(prepared.network.order, start=1)
        if finishes[step] <= at_s
    }
    return Situation(prepared, State(done=done), at_s)


def shares(found: NDArray[np.float64]) -> Shares:
    below, above = float(np.mean(found < 0.1)), float(np.mean(found > 0.9))
    return Shares(below, 1 - below - above, above)


def main() -> None:
    for name, of in (("sample", sample()), ("random, 60 steps", random_procedure(np.random.default_rng(1)))):
        began = time.monotonic()
        found = shares(places(of, seed=7))
        print(
            f"{name}: {RUNS} runs, {found.below:.3f} below the tenth percentile, {found.inside:.3f} from there to the "
            f"ninetieth, {found.above:.3f} above; due 0.100, 0.800, 0.100; took {time.monotonic() - began:.1f} s"
        )


if __name__ == "__main__":
    main()
