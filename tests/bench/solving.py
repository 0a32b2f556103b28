"""The reference of the options: the least worth to put off for an aim, asked of HiGHS and of CP-SAT.

The model is exact on a board at zero without windows and without earliest starts. For each step j, with duration d, a
time e that it passes on to what waits for it; for each place in a person's list a time f at which they are free; x = 1
when the task of j is put off, 0 for good where it may not be. With M the finish of the whole plan:

    e_j >= e_i + wait + d (1 - x)     for each prerequisite i: put off, it still passes on what it waited for
    e_j >= d (1 - x)
    e_j >= f + d - M x                f of its people's places before it: put off, it waits for nobody
    f_next >= f,  f_next >= e_j - M x
    e_j - M x <= aim                  for steps that count: what is put off does not set the finish
    x_other >= x                      for each task that goes along

so a put-off step does not hold its person and needs no links across it. The rows are the same for both solvers.
"""

import importlib.util
import time
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from app.core.procedure import TaskId
from app.core.putting_off import candidates
from app.core.situation import Situation


@dataclass(slots=True)
class Model:
    """Rows of ``sum(factor * variable) >= least``, to be minimised over `worth` of the first variables, the x."""

    worth: list[int]
    most: list[int]
    rows: list[tuple[dict[int, int], int]] = field(default_factory=list)

    def variable(self, most: int) -> int:
        self.most.append(most)
        return len(self.most) - 1

    def at_least(self, terms: dict[int, int], least: int) -> None:
        self.rows.append((terms, least))


def model(situation: Situation, aim_s: int) -> Model:
    """Raises ValueError when the board has what the model does not know."""
    network = situation.network
    if any(network.spans) or any(network.not_before_s) or situation.at_s or situation.state.done:
        raise ValueError("the model knows no windows, no earliest starts and no run that has begun")
    tasks = candidates(situation)
    made = Model([situation.procedure.task(task).worth for task in tasks], [1] * len(tasks))
    bit: dict[TaskId, int] = {task: place for place, task in enumerate(tasks)}
    for task, along in tasks.items():
        for other in along:
            if other != task:
                made.at_least({bit[other]: 1, bit[task]: -1}, 0)
    _times(made, situation, bit, aim_s)
    return made


def _times(made: Model, situation: Situation, bit: dict[TaskId, int], aim_s: int) -> None:
    network, big = situation.network, situation.projection.end_s
    ends, free = dict[int, int](), dict[int, int]()
    for step in network.order:
        takes, x = network.takes_s[step], bit.get(network.steps[step].task)
        own = ends[step] = made.variable(big)
        still, off = ({}, {}) if x is None else ({x: takes}, {x: big})
        made.at_least({own: 1, **still}, takes)
        for earlier, wait_s in network.before[step]:
            made.at_least({own: 1, ends[earlier]: -1, **still}, takes + wait_s)
        for seat in network.people[step]:
            after = made.variable(big)
            if seat in free:
                made.at_least({own: 1, free[seat]: -1, **off}, takes)
                made.at_least({after: 1, free[seat]: -1}, 0)
            made.at_least({after: 1, own: -1, **off}, 0)
            free[seat] = after
        if network.counted[step]:
            made.at_least({own: -1, **off}, -aim_s)


@dataclass(frozen=True, slots=True)
class Solved:
    """The least worth, None when the aim can't be met; how long the solver's own call took, processor milliseconds."""

    worth: int | None
    took_ms: float


def highs(of: Model, at_most_s: float = 60) -> Solved:
    """HiGHS as SciPy brings it. Raises RuntimeError when it gives up."""
    cost = np.zeros(len(of.most))
    cost[: len(of.worth)] = of.worth
    whole = np.zeros(len(of.most), dtype=np.int_)
    whole[: len(of.worth)] = 1
    places = [(row, column, factor) for row, (terms, _) in enumerate(of.rows) for column, factor in terms.items()]
    at, columns, factors = (np.array(each) for each in zip(*places, strict=True))
    matrix = csr_array((factors, (at, columns)), shape=(len(of.rows), len(of.most)))
    rows = LinearConstraint(matrix, lb=np.array([least for _, least in of.rows]))
    began = time.process_time()
    found = milp(
        cost,
        integrality=whole,
        bounds=Bounds(0, np.array(of.most)),
        constraints=rows,
        options={"time_limit": at_most_s},
    )
    took = (time.process_time() - began) * 1000
    if found.status == 2:
        return Solved(None, took)
    if found.status != 0:
        raise RuntimeError(found.message)
    return Solved(round(float(found.fun)), took)


def has_cp_sat() -> bool:
    return importlib.util.find_spec("ortools") is not None


def cp_sat(of: Model, at_most_s: float = 60) -> Solved:
    """CP-SAT with one worker, where OR-Tools happens to be installed: it is no dependency. Raises RuntimeError."""
    cp_model: Any = importlib.import_module("ortools.sat.python.cp_model")
    made = cp_model.CpModel()
    variables = [made.new_int_var(0, most, f"v{number}") for number, most in enumerate(of.most)]
    for terms, least in of.rows:
        made.add(sum(factor * variables[column] for column, factor in terms.items()) >= least)
    made.minimize(sum(worth * variables[place] for place, worth in enumerate(of.worth)))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = at_most_s
    began = time.process_time()
    status = solver.solve(made)
    took = (time.process_time() - began) * 1000
    if status == cp_model.INFEASIBLE:
        return Solved(None, took)
    if status != cp_model.OPTIMAL:
        raise RuntimeError("CP-SAT gave up")
    return Solved(round(solver.objective_value), took)
