"""The simulation of a whole run agrees with its budget, and is what it says it is."""

import numpy as np
import pytest
from scipy.stats import norm

from reduction import ReductionError, simulate
from reduction.inputs import RunInputs
from reduction.monte_carlo import sample_run, summarize
from reduction.reduce_run import reduce_run

from .conftest import RunFile

FIRING = simulate.Firing(noise_k=0.001, resolution_k=0.001, cadence_s=5.0, seed=3)
TRIALS = 6000


def test_the_budget_of_c_agrees_with_simulation_within_3_percent(standardization: RunFile) -> None:
    inputs = RunInputs.from_dict(standardization(FIRING))
    budget = reduce_run(inputs).budget["heat_capacity"]
    found = sample_run(inputs, TRIALS)["heat_capacity"]
    error = found.u_error / found.u
    assert found.trials == TRIALS and error < 0.011
    assert budget.u / found.u == pytest.approx(1.0, abs=0.03 + 2.0 * error)
    assert found.mean == pytest.approx(budget.value, abs=4.0 * budget.u / TRIALS**0.5)
    assert found.upper - found.lower == pytest.approx(2.0 * 1.96 * budget.u, rel=0.05)


def test_all_budgets_of_an_unknown_agree_with_simulation(unknown: RunFile) -> None:
    inputs = RunInputs.from_dict(unknown(FIRING, uncertainties={"fuse_percent": 20.0}))
    budgets, found = reduce_run(inputs).budget, sample_run(inputs, TRIALS, seed=1)
    assert set(found) == {"rise", "du", "dcu", "dch", "dfh"}
    for name, budget in budgets.items():
        error = found[name].u_error / found[name].u
        assert budget.u / found[name].u == pytest.approx(1.0, abs=0.03 + 2.0 * error), name


def test_few_degrees_of_freedom_widen_the_interval(unknown: RunFile) -> None:
    # C alone, Student's t with 4 degrees of freedom: 2.776 standard uncertainties each way.
    capacity = {"j_per_k": 10000.0, "u_j_per_k": 200.0, "dof": 4}
    inputs = RunInputs.from_dict(unknown(FIRING, heat_capacity=capacity))
    found = sample_run(inputs, TRIALS)["du"]
    assert (found.upper - found.lower) / 2.0 == pytest.approx(2.776 * 200.0 * 2.5, rel=0.08)


def test_the_same_seed_gives_the_same_figures(standardization: RunFile) -> None:
    inputs = RunInputs.from_dict(standardization(FIRING))
    assert sample_run(inputs, 200, seed=5) == sample_run(inputs, 200, seed=5)
    assert sample_run(inputs, 200, seed=5) != sample_run(inputs, 200, seed=6)


def test_the_chosen_method_is_the_one_that_is_run(standardization: RunFile) -> None:
    for method in ("difference", "equal_areas", "heat_balance"):
        inputs = RunInputs.from_dict(standardization(FIRING, method={"rise": method}))
        found = sample_run(inputs, 120)["rise"]
        assert found.mean == pytest.approx(reduce_run(inputs).rise_used["rise_k"], abs=4e-4)


def test_the_shortest_interval_of_a_lopsided_sample_leans_to_its_mode() -> None:
    # Exponential: the shortest 95 % interval is from 0 to −ln 0.05 = 2.996 (calculus).
    random = np.random.default_rng(0)
    found = summarize(random.exponential(1.0, 40000))
    assert found.lower < 0.01 and found.upper == pytest.approx(2.996, abs=0.06)


def test_the_error_of_u_is_that_of_a_normal_sample() -> None:
    # u/√(2n) for a normal sample.
    values = norm.ppf((np.arange(5000) + 0.5) / 5000)
    assert summarize(values).u_error == pytest.approx(1.0 / np.sqrt(10000.0), rel=0.02)


def test_without_a_rise_there_is_nothing_to_simulate(standardization: RunFile) -> None:
    run = standardization(simulate.Firing(end_s=470.0, cadence_s=5.0))
    with pytest.raises(ReductionError, match="no rise with an uncertainty"):
        sample_run(RunInputs.from_dict(run), 200)
    with pytest.raises(ReductionError, match="at least 100"):
        summarize(np.full(200, np.nan))
