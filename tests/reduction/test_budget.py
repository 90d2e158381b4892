"""Uncertainty budgets against the calculus of the formulas and the GUM's own example."""

import json
from typing import Any

import pytest
from scipy.stats import chi2, t

from reduction import InputError, simulate
from reduction.budget import Budget, effective_dof, mean_budget, replicates_against_budget
from reduction.inputs import RunInputs
from reduction.reduce_run import Reduction, reduce_run
from reduction.replicates import chi_square, student_t, summarize

from .conftest import RunFile

FIRING = simulate.Firing(noise_k=0.001, resolution_k=0.001, cadence_s=5.0, seed=3)
SET = {
    "weighing_g": 0.0002,
    "bucket_water_g": 0.5,
    "fuse_length_cm": 0.1,
    "fuse_percent": 4.0,
    "titre_ml": 0.1,
    "titrant_percent": 1.0,
    "acid_percent": 2.0,
}


def reduce(run: dict[str, Any]) -> Reduction:
    return reduce_run(RunInputs.from_dict(run))


def rows(budget: Budget) -> dict[str, Any]:
    return {row.input: row for row in budget.rows}


def test_every_contribution_to_c_is_that_of_the_calculus(standardization: RunFile) -> None:
    # C = (m·b·Δu + Q_fuse + Q_acid)/ΔT − (m_w − m_nom)·c_p, differentiated by hand.
    standard = {"j_per_g": 26434.0, "u_j_per_g": 3.0, "density_g_per_cm3": 1.320}
    result = reduce(standardization(FIRING, uncertainties=SET, standard=standard))
    budget, rise = result.budget["heat_capacity"], float(str(result.rise_used["rise_k"]))
    u_rise, buoyancy = float(str(result.rise_used["u_k"])), (1 - 0.00015) / (1 - 0.0012 / 1.320)
    expected = {
        "mass": 2**0.5 * 0.0002 * buoyancy * 26434.0 / rise,
        "certificate": 3.0 * buoyancy / rise,
        "fuse_value": 0.04 * 9.6 * 7.7 / rise,
        "fuse_used": 2**0.5 * 0.1 * 9.6 / rise,
        "titre": 0.1 * 0.0709 * 59.7 / rise,
        "titrant": 0.01 * 8.2 * 0.0709 * 59.7 / rise,
        "acid_value": 0.02 * 8.2 * 0.0709 * 59.7 / rise,
        "bucket_water": 0.5 * 4.18131,
        "rise": u_rise * budget.value / rise,
    }
    found = rows(budget)
    assert set(found) == set(expected)
    for name, contribution in expected.items():
        assert found[name].contribution == pytest.approx(contribution, rel=1e-5), name
    assert budget.u == pytest.approx(sum(c**2 for c in expected.values()) ** 0.5, rel=1e-5)
    assert sum(row.share_percent for row in budget.rows) == pytest.approx(100.0)
    assert found["rise"].sensitivity == pytest.approx(-budget.value / rise, rel=1e-5)
    assert found["bucket_water"].sensitivity == pytest.approx(-4.18131, rel=1e-5)


def test_the_largest_contribution_is_named_and_leads(standardization: RunFile) -> None:
    budget = reduce(standardization(FIRING, uncertainties={"bucket_water_g": 5.0})).budget
    first = budget["heat_capacity"].rows[0]
    assert first.input == "bucket_water" and first.share_percent > 80
    sentence = f"The largest contribution is the bucket water: {first.share_percent:.0f} %"
    assert budget["heat_capacity"].largest == f"{sentence} of the variance."
    parts = [row.contribution for row in budget["heat_capacity"].rows]
    assert parts == sorted(parts, reverse=True)


def test_the_source_of_every_uncertainty_is_told(standardization: RunFile) -> None:
    standard = {"j_per_g": 26434.0, "u_j_per_g": 3.0}
    fields = {"uncertainties": {"titre_ml": 0.02}, "standard": standard}
    found = rows(reduce(standardization(FIRING, **fields)).budget["heat_capacity"])
    assert found["titre"].source == "typed in" and found["titre"].u == 0.02
    assert found["mass"].source == "default of the field"
    assert found["certificate"].source == "certificate"
    assert found["rise"].source == "fit"


def test_a_correction_that_is_off_has_no_part_in_the_budget(standardization: RunFile) -> None:
    method = {"corrections": {"bucket_water": False, "acid": False}}
    found = rows(reduce(standardization(FIRING, method=method)).budget["heat_capacity"])
    assert not {"bucket_water", "titre", "titrant", "acid_value"} & set(found)


def test_aids_and_thread_have_their_parts(standardization: RunFile) -> None:
    aids = [{"name": "capsule", "mass_g": 0.1, "j_per_g": 20000.0}]
    thread = {"mass_g": 0.01, "j_per_g": 17500.0}
    budget = reduce(standardization(FIRING, aids=aids, thread=thread)).budget["heat_capacity"]
    found = rows(budget)
    assert found["aid_1_value"].contribution == pytest.approx(0.005 * 2000.0 / 2.5, rel=1e-3)
    assert found["thread_value"].contribution == pytest.approx(0.02 * 175.0 / 2.5, rel=1e-3)
    assert found["aid_1_mass"].words == "the mass of capsule"
    assert found["thread_mass"].unit == "g"


def test_an_unknown_has_a_budget_for_each_of_its_results(unknown: RunFile) -> None:
    # C10H8: Δ_fH takes ten times the CO2 of 0.13 and four times the H2O of 0.040 kJ/mol (CODATA).
    budget = reduce(unknown(FIRING)).budget
    assert list(budget) == ["du", "dcu", "dch", "dfh"]
    assert budget["du"].unit == "J/g" and budget["dfh"].unit == "kJ/mol"
    assert budget["dcu"].u == pytest.approx(budget["du"].u * 128.174 / 1000.0, rel=1e-6)
    assert budget["dch"].u == pytest.approx(budget["dcu"].u, rel=1e-9)
    formation = rows(budget["dfh"])
    assert formation["formation_CO2"].contribution == pytest.approx(1.3)
    assert formation["formation_H2O"].contribution == pytest.approx(0.16)
    assert budget["dfh"].u ** 2 == pytest.approx(budget["dch"].u ** 2 + 1.3**2 + 0.16**2)


def test_a_heat_capacity_from_three_runs_leaves_few_degrees_of_freedom(unknown: RunFile) -> None:
    # s/√3 with two degrees of freedom: t = 4.303 where C is all there is.
    capacity = {"j_per_k": 10000.0, "u_j_per_k": 120.0, "dof": 2}
    budget = reduce(unknown(FIRING, heat_capacity=capacity)).budget["du"]
    assert budget.rows[0].input == "heat_capacity" and budget.rows[0].source == "typed in"
    assert budget.rows[0].contribution == pytest.approx(120.0 * 2.5, rel=1e-3)
    assert budget.dof == pytest.approx(2.0, abs=0.02) and budget.k == pytest.approx(4.303, abs=0.03)
    assert budget.expanded_u == budget.k * budget.u


def test_a_hidden_substance_has_a_budget_per_gram_only(unknown: RunFile) -> None:
    result = reduce(unknown(FIRING, substance=None)).as_dict()
    assert list(result["budget"]) == ["du"]
    assert "mol" not in json.dumps(result["budget"]["du"]).replace("mol/L", "").replace("J/mol", "")


def test_effective_degrees_of_freedom_are_those_of_the_gums_end_gauge() -> None:
    # JCGM 100:2008, H.1.6: 25, 9.7, 2.9 and 16.6 nm with 18, 25.6, 50 and 2 degrees of freedom
    # give 16.7 (from memory of the example; the sum is redone here).
    parts = [(25.0, 18.0), (9.7, 25.6), (2.9, 50.0), (16.6, 2.0), (0.1, None)]
    assert effective_dof(parts) == pytest.approx(16.7, abs=0.5)
    assert effective_dof([(1.0, None)]) == float("inf")


def test_coverage_factors_are_students() -> None:
    assert student_t(float("inf")) == pytest.approx(1.959964, abs=1e-6)
    assert student_t(3.5) == pytest.approx(t.ppf(0.975, 3.5))
    assert chi_square(2, 0.975) == pytest.approx(chi2.ppf(0.975, 2))


def test_the_budget_is_plain_json_without_infinities(standardization: RunFile) -> None:
    budget = reduce(standardization(FIRING)).as_dict()["budget"]
    assert json.loads(json.dumps(budget, allow_nan=False)) == budget
    assert {"value", "unit", "u", "dof", "k", "expanded_u", "rows", "largest"} == set(
        budget["heat_capacity"]
    )


def test_a_fuse_burned_to_nothing_still_has_its_part(standardization: RunFile) -> None:
    # A length below nothing cannot be computed: the side above alone.
    fuse = {"basis": "J/cm", "value": 9.6, "used": 0.0}
    found = rows(reduce(standardization(FIRING, fuse=fuse)).budget["heat_capacity"])
    assert found["fuse_used"].contribution == pytest.approx(2**0.5 * 0.05 * 9.6 / 2.5, rel=1e-3)


@pytest.mark.parametrize("bad", [{"weighing_g": -1.0}, {"balance": 1.0}, {"titre_ml": "0.1"}])
def test_a_bad_uncertainty_is_refused_by_name(standardization: RunFile, bad: Any) -> None:
    with pytest.raises(InputError, match=f"uncertainties.{next(iter(bad))}"):
        RunInputs.from_dict(standardization(uncertainties=bad))


def replicate_budgets(standardization: RunFile, count: int) -> list[Budget]:
    runs = [simulate.Firing(noise_k=0.001, cadence_s=5.0, seed=seed) for seed in range(count)]
    return [reduce(standardization(run)).budget["heat_capacity"] for run in runs]


def test_what_all_runs_share_does_not_average_out(standardization: RunFile) -> None:
    budgets = replicate_budgets(standardization, 4)
    one, mean = rows(budgets[0]), rows(mean_budget(budgets))
    assert mean["certificate"].contribution == pytest.approx(
        one["certificate"].contribution, rel=1e-3
    )
    assert mean["mass"].contribution == pytest.approx(one["mass"].contribution / 2.0, rel=1e-3)
    free = [budget.rows[0].dof for budget in budgets]
    assert mean["rise"].dof is not None and free[0] is not None
    assert mean["rise"].dof > 2.0 * free[0]


def test_replicates_and_budget_that_disagree_are_told_in_a_sentence(
    standardization: RunFile,
) -> None:
    mean = mean_budget(replicate_budgets(standardization, 3))
    centre, u = mean.value, mean.u
    agree = summarize([centre - u, centre, centre + 2.0 * u])
    apart = summarize([centre - 20.0 * u, centre, centre + 20.0 * u])
    close = summarize([centre, centre + 0.01 * u, centre - 0.01 * u])
    assert replicates_against_budget(agree, mean) is None
    assert "scatter more than the budget" in str(replicates_against_budget(apart, mean))
    assert "scatter less than the budget" in str(replicates_against_budget(close, mean))
    assert "3 runs" in str(replicates_against_budget(apart, mean))
    assert replicates_against_budget(summarize([centre]), mean) is None


def test_a_mean_needs_a_run() -> None:
    with pytest.raises(ValueError, match="at least one run"):
        mean_budget([])
