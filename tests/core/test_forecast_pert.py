"""The forecast of textbook PERT networks: a single chain as published, whole networks with their paths merging.

Nobody does the steps, so that no pace comes in. A week is 10,000 s.
"""

import json
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from app.core.draws import Points
from app.core.forecast import Draws
from app.core.procedure import Procedure, Takes
from tests.core.building import procedure, step, task
from tests.core.running import marked

DATA = Path(__file__).parent.parent / "data"
WEEK = 10_000
DRAWS = 100_000


def _read(name: str) -> Any:
    return json.loads((DATA / name).read_text(encoding="utf-8"))


# Porta-Vac: Anderson et al., An Introduction to Management Science, Cengage 2014, Table 9.4 and pages 386-387.
# General Foundry: Render, Stair, Hanna, Quantitative Analysis for Management; its network is seen, its three points and
# the probability are from memory.
CASES = {case["id"]: case for case in _read("pert_cases.json")}
FOUNDRY_BEFORE = {
    each["id"]: each["predecessors"]
    for case in _read("cpm_cases.json")
    if case["id"] == "general_foundry"
    for each in case["activities"]
}
PORTA_VAC, FOUNDRY = CASES["porta_vac_pert"], CASES["general_foundry_pert"]
CHAINS = {"porta_vac_pert": "AEHIJ", "general_foundry_pert": "ACEGH"}
# Own computation with 1,000,000 draws, not a published value; the file says so.
PORTA_VAC_DRAWN = _read("mc_analytic.json")["porta_vac_mc"]


def network(case: Mapping[str, Any], before: Mapping[str, Sequence[str]], only: Collection[str] = ()) -> Procedure:
    """The activities as tasks of one step; `only` some of them, with the links among these."""
    tasks = []
    for name, (low, likely, high) in case["activities"].items():
        if not only or name in only:
            takes = Takes(round(likely * WEEK), round(low * WEEK), round(high * WEEK))
            after = [each for each in before[name] if not only or each in only]
            tasks.append(task(name, [replace(step(0), takes=takes)], after=after))
    return procedure(*tasks)


def weeks(made: Procedure) -> NDArray[np.float64]:
    """[DRAWS]: when all is done."""
    draws = Draws(marked(made, 0, {}), np.random.default_rng(11), DRAWS)
    kernel = draws.kernel()
    return kernel.last_finish(kernel.finishes(draws.durations)).astype(np.float64) / WEEK


def error(share: float) -> float:
    """Three binomial standard errors."""
    return 3 * math.sqrt(share * (1 - share) / DRAWS)


def convolved(case: Mapping[str, Any], chain: str, deadline: float, grid: float = 1e-3) -> float:
    """How likely the activities of a chain together take no longer than `deadline`, on a grid of weeks."""
    summed, begins = np.array([1.0]), 0.0
    for name in chain:
        low, likely, high = case["activities"][name]
        mode, cells = (likely - low) / (high - low), round((high - low) / grid)
        below = stats.beta(1 + 4 * mode, 5 - 4 * mode).cdf(np.linspace(0, 1, cells + 1))
        summed, begins = np.convolve(summed, np.diff(below)), begins + low + grid / 2
    return float(summed[: math.floor((deadline - begins) / grid) + 1].sum())


def test_the_chain_of_porta_vac_has_the_published_mean_and_the_exact_variance() -> None:
    """The book's 2.7222 is the classic sum of ((b - a)/6)^2; the distribution that is drawn from has 2.7857."""
    of = [Points(*PORTA_VAC["activities"][name]) for name in CHAINS["porta_vac_pert"]]
    assert sum(each.mean_s for each in of) == pytest.approx(PORTA_VAC["expected_duration"], rel=1e-12)
    assert sum(each.variance for each in of) == pytest.approx(PORTA_VAC_DRAWN["single_path_var_exact"], rel=1e-12)
    classic = sum(((each.high_s - each.low_s) / 6) ** 2 for each in of)
    assert classic == pytest.approx(PORTA_VAC["variance"], rel=1e-12)
    found = weeks(network(PORTA_VAC, PORTA_VAC["predecessors"], CHAINS["porta_vac_pert"]))
    assert found.mean() == pytest.approx(17, abs=4 * found.std() / math.sqrt(DRAWS))
    assert found.var() == pytest.approx(PORTA_VAC_DRAWN["single_path_var_exact"], rel=0.02)
    assert found.var() > PORTA_VAC["variance"] * 1.005


def test_the_chain_of_porta_vac_ends_by_week_20_about_as_likely_as_published() -> None:
    """0.9656 is of a normal distribution. Five skewed ones add up to 0.950, by convolution of scipy's betas."""
    found = weeks(network(PORTA_VAC, PORTA_VAC["predecessors"], CHAINS["porta_vac_pert"]))
    share = float(np.mean(found <= PORTA_VAC["deadline"]))
    assert share == pytest.approx(convolved(PORTA_VAC, "AEHIJ", PORTA_VAC["deadline"]), abs=error(share))
    assert share == pytest.approx(PORTA_VAC["probability"], abs=0.02)


def test_the_forecast_sees_that_merging_paths_make_porta_vac_later_than_its_chain() -> None:
    found = weeks(network(PORTA_VAC, PORTA_VAC["predecessors"]))
    share = float(np.mean(found <= PORTA_VAC["deadline"]))
    assert share == pytest.approx(PORTA_VAC_DRAWN["p_le_20"], abs=error(PORTA_VAC_DRAWN["p_le_20"]))
    assert share < PORTA_VAC["probability"] - 10 * error(share)
    # The skew of the chain alone explains a part of that; against the chain drawn in the same way it is later still.
    assert share < convolved(PORTA_VAC, "AEHIJ", PORTA_VAC["deadline"]) - 5 * error(share)
    assert found.mean() == pytest.approx(PORTA_VAC_DRAWN["mean"], abs=4 * found.std() / math.sqrt(DRAWS))
    assert found.std() == pytest.approx(PORTA_VAC_DRAWN["sd"], rel=0.01)


def test_the_chain_of_general_foundry_is_as_remembered_and_its_network_later() -> None:
    """15 weeks and 0.7157 by week 16 on the chain alone, from memory."""
    chain = weeks(network(FOUNDRY, FOUNDRY_BEFORE, CHAINS["general_foundry_pert"]))
    whole = weeks(network(FOUNDRY, FOUNDRY_BEFORE))
    assert chain.mean() == pytest.approx(FOUNDRY["expected_duration"], abs=4 * chain.std() / math.sqrt(DRAWS))
    share = float(np.mean(chain <= FOUNDRY["deadline"]))
    assert share == pytest.approx(FOUNDRY["probability"], abs=0.015)
    assert share == pytest.approx(convolved(FOUNDRY, "ACEGH", FOUNDRY["deadline"]), abs=error(share))
    assert float(np.mean(whole <= FOUNDRY["deadline"])) < share - 5 * error(share)
