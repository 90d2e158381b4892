"""The working: every step, worked out again from the digits it shows, gives the digits it shows."""

import math
from decimal import Decimal, localcontext
from typing import Any

import numpy as np
import pytest

from reduction import simulate
from reduction.inputs import RunInputs
from reduction.reduce_run import reduce_run
from reduction.working import Step, working
from reduction.working import expressions as tree

from .conftest import RunFile, readings

NOISY = simulate.Firing(noise_k=0.001, resolution_k=0.0001)
EVERY_CORRECTION = dict.fromkeys(
    (
        "bucket_water",
        "buoyancy",
        "conditions",
        "fuse",
        "thread",
        "acid",
        "aids",
        "standard_state",
        "contents",
    ),
    True,
)
ADDED: dict[str, Any] = {
    "fuse": {"basis": "J/g", "value": 5858.0, "used": 0.0123},
    "thread": {"mass_g": 0.0105, "j_per_g": 17500.0},
    "aids": [
        {"name": "gelatine capsule", "mass_g": 0.1012, "j_per_g": 18900.0},
        {"name": "oil", "mass_g": 0.0533, "j_per_g": 46050.0},
    ],
    "bucket_water_g": 2003.7,
    "method": {"corrections": EVERY_CORRECTION},
}
NAPHTHALENE = {
    "name": "naphthalene",
    "formula": "C10H8",
    "density_g_per_cm3": 1.14,
    "literature": {"dch_kj_per_mol": -5156.15, "u": 0.92, "citation": "Coleman & Pilcher 1966"},
}
METHODS = (
    "regnault_pfaundler",
    "fraction",
    "fraction_060",
    "fraction_by_hand",
    "equal_areas",
    "heat_balance",
    "difference",
)


def steps_of(run: dict[str, Any]) -> tuple[Step, ...]:
    inputs = RunInputs.from_dict(run)
    return working(inputs, reduce_run(inputs).as_dict())


def written(expression: tree.Expression) -> str:
    """The formula as Python, its numbers as the text a reader sees: a second way to work it out."""
    match expression:
        case tree.Symbol() | tree.Number():
            return f"Decimal('{expression.shown}')"
        case tree.Given(total=inside) | tree.Bracket(of=inside):
            return f"({written(inside)})"
        case tree.Sum(terms=terms):
            return " + ".join(map(written, terms))
        case tree.Difference(left=left, right=right):
            return f"{written(left)} - {written(right)}"
        case tree.Product(factors=factors):
            return " * ".join(map(written, factors))
        case tree.Quotient(over=over, under=under):
            return f"({written(over)}) / ({written(under)})"
        case tree.Negative(of=of):
            return f"-{written(of)}"
        case tree.Square(of=of):
            return f"{written(of)} ** 2"
        case tree.Root(of=of):
            return f"({written(of)}).sqrt()"
        case tree.Logarithm(of=of):
            return f"({written(of)}).ln()"


def assert_all_close(steps: tuple[Step, ...]) -> None:
    for step in steps:
        if step.expression is None:
            continue
        with localcontext() as context:
            context.prec = 30
            found = eval(written(step.expression), {"Decimal": Decimal})
            rounded = found.quantize(Decimal(1).scaleb(-step.shown_decimals))
        assert rounded == step.symbol.shown, (step.key, str(found), str(step.symbol.shown))
        assert step.closes, step.key


@pytest.mark.parametrize("method", METHODS)
def test_every_step_of_a_standardization_closes(standardization: RunFile, method: str) -> None:
    steps = steps_of(standardization(NOISY, charge_g=0.9876, method={"rise": method}))
    assert_all_close(steps)
    assert [step.key for step in steps][-1] == "C_nom"


@pytest.mark.parametrize("method", METHODS)
def test_every_step_of_an_unknown_closes(unknown: RunFile, method: str) -> None:
    rise = {"rise": method, "corrections": EVERY_CORRECTION}
    run = unknown(NOISY, **ADDED | {"substance": NAPHTHALENE, "method": rise})
    steps = steps_of(run)
    assert_all_close(steps)
    assert [step.key for step in steps][-1] == "delta"


@pytest.mark.parametrize("kind", ["standardization", "unknown", "practice", "blank"])
@pytest.mark.parametrize("changes", [{}, ADDED])
def test_every_step_of_every_kind_of_run_closes(
    standardization: RunFile, unknown: RunFile, kind: str, changes: dict[str, Any]
) -> None:
    build = unknown if kind == "unknown" else standardization
    steps = steps_of(build(NOISY, **{"kind": kind, "charge_g": 1.0123} | changes))
    assert_all_close(steps)
    assert "q_fuse" in [step.key for step in steps]


@pytest.mark.parametrize("kind", ["dch_kj_per_mol", "dcu_kj_per_mol"])
@pytest.mark.parametrize("to_bomb", [True, False])
def test_a_standard_with_a_published_molar_value_is_converted_in_steps(
    standardization: RunFile, kind: str, to_bomb: bool
) -> None:
    # Benzoic acid −3226.87 kJ/mol (NIST Chemistry WebBook, 1969 value) is 26 413 J/g (Hess).
    molar = {"dch_kj_per_mol": -3226.87, "dcu_kj_per_mol": -3225.63}[kind]
    standard = {"formula": "C7H6O2", "citation": "1969 value", kind: molar}
    method = {"corrections": {"standard_state": to_bomb}}
    steps = steps_of(standardization(NOISY, standard=standard, method=method))
    assert_all_close(steps)
    by_key = {step.key: step for step in steps}
    assert by_key["e_std"].result == pytest.approx(26413.2, abs=0.6)
    assert ("f_bomb" in by_key) == to_bomb


def test_bucket_water_by_volume_is_made_a_mass_first(standardization: RunFile) -> None:
    # Water at 23 °C: 997.541 kg/m³ (IAPWS-95).
    water = {"volume_ml": 2000.0, "temperature_c": 23.0}
    steps = steps_of(standardization(NOISY, bucket_water_g=None, bucket_water=water))
    assert_all_close(steps)
    mass = next(step for step in steps if step.key == "m_bucket")
    assert float(mass.symbol.shown) == pytest.approx(1995.08, abs=0.02)


@pytest.mark.parametrize("seed", range(12))
def test_steps_close_for_odd_firings_too(unknown: RunFile, seed: int) -> None:
    random = np.random.default_rng(seed)
    firing = simulate.Firing(
        rise_k=float(random.uniform(0.3, 4.0)),
        convergence_c=float(random.uniform(20.0, 30.0)),
        release_s=(float(random.uniform(5.0, 60.0)),),
        cadence_s=float(random.choice([1.0, 7.5, 30.0, 60.0])),
        noise_k=0.002,
        resolution_k=float(random.choice([0.0, 0.001, 0.01])),
        seed=seed,
    )
    for method in METHODS:
        rise = {"rise": method}
        assert_all_close(steps_of(unknown(firing, charge_g=0.4321, method=rise)))


@pytest.mark.parametrize(
    ("formula", "phase"), [("CH4N2O", "s"), ("C2H6OS", "l"), ("CH4", "g"), ("H2", "g")]
)
def test_other_elements_and_phases_close(unknown: RunFile, formula: str, phase: str) -> None:
    substance = {"name": "sample", "formula": formula, "phase": phase}
    assert_all_close(steps_of(unknown(NOISY, substance=substance)))


def test_a_formula_that_does_not_burn_ends_per_gram(unknown: RunFile) -> None:
    substance = {"name": "sample", "formula": "CO2", "phase": "g"}
    assert steps_of(unknown(NOISY, substance=substance))[-1].key == "dc_u"


def test_a_hidden_substance_ends_per_gram(unknown: RunFile) -> None:
    steps = steps_of(unknown(NOISY, substance=None, method={"corrections": EVERY_CORRECTION}))
    keys = [step.key for step in steps]
    assert keys[-1] == "dc_u"
    assert not {"M", "dc_U", "dn_g", "dc_H", "df_H", "epsilon"} & set(keys)
    assert "naphthalene" not in repr(steps) and "C10H8" not in repr(steps)


def test_the_slopes_are_those_of_numpy_and_the_sums_of_the_readings(
    standardization: RunFile,
) -> None:
    # numpy.polyfit is the outside check on the drift lines.
    run = standardization(NOISY)
    steps = {step.key: step for step in steps_of(run)}
    time_s = np.array(run["readings"]["time_s"])
    temperature_c = np.array(run["readings"]["temperature_c"])
    fore = time_s <= 300.0
    slope, _ = np.polyfit(time_s[fore] - 150.0, temperature_c[fore], 1)
    assert float(steps["g_i"].symbol.shown) == pytest.approx(slope, abs=5e-9)
    total = next(s.symbol for s in steps["T_i_mean"].sources if s.symbol.key == "sum_T_i")
    assert total.shown == sum(Decimal(repr(c)) for c in temperature_c[fore].tolist())


def test_the_area_is_that_of_a_first_order_release(standardization: RunFile) -> None:
    # Without leak ∫ΔT·e^(−t/τ)dt = ΔT·τ over a main period of many τ: 2.5 K · 42 s.
    firing = simulate.Firing(leak_per_s=0.0, cadence_s=20.0)
    run = standardization(firing, settled_at_s=1000.0)
    area = next(step for step in steps_of(run) if step.key == "S")
    assert area.result == pytest.approx(2.5 * 42.0, rel=1e-4)
    assert "trapezoid" in area.remark


def test_numbers_known_from_elsewhere_stand_in_the_steps(
    standardization: RunFile, unknown: RunFile
) -> None:
    # 9.6 J/cm × 7.7 cm; b such that 26 434 J/g in vacuum is 26 454.1 in air (SRM 39j, OIML D 28).
    steps = {step.key: step for step in steps_of(standardization(NOISY))}
    assert str(steps["q_fuse"].symbol.shown.normalize()) == "73.92"
    assert float(steps["b"].symbol.shown) == pytest.approx(26454.1 / 26434.0, abs=2e-6)
    # C10H8: M = 10 · 12.011 + 8 · 1.008 (IUPAC 2021), Δn = 10 − 12.
    steps = {step.key: step for step in steps_of(unknown(NOISY))}
    assert str(steps["M"].symbol.shown.normalize()) == "128.174"
    assert steps["dn_g"].symbol.shown == -2


def test_a_correction_that_is_off_has_no_step(standardization: RunFile) -> None:
    off = dict.fromkeys(EVERY_CORRECTION, False)
    keys = [step.key for step in steps_of(standardization(NOISY, method={"corrections": off}))]
    assert not {"q_fuse", "q_acid", "b", "f", "dC_water", "C_nom"} & set(keys)
    assert keys[-1] == "C"


def test_without_an_after_period_only_what_stands_is_written(standardization: RunFile) -> None:
    run = standardization(simulate.Firing(end_s=420.0))
    keys = [step.key for step in steps_of(run)]
    assert "g_i" in keys and not {"g_f", "dT", "C"} & set(keys)


def test_every_number_put_in_has_a_step_or_a_source(unknown: RunFile) -> None:
    steps = steps_of(unknown(NOISY, **ADDED | {"substance": NAPHTHALENE}))
    before: set[str] = set()
    for step in steps:
        sourced = {source.symbol.key for source in step.sources}
        assert all(source.words for source in step.sources)
        used = [] if step.expression is None else list(tree.symbols_in(step.expression))
        assert {symbol.key for symbol in used} <= before | sourced, step.key
        before.add(step.key)
    assert len(before) == len(steps)


def test_a_number_shows_the_same_digits_wherever_it_stands(unknown: RunFile) -> None:
    steps = steps_of(unknown(NOISY, **ADDED | {"substance": NAPHTHALENE}))
    shown: dict[str, set[Decimal]] = {}
    for step in steps:
        used = [] if step.expression is None else list(tree.symbols_in(step.expression))
        for symbol in [step.symbol, *used]:
            shown.setdefault(symbol.key, set()).add(symbol.shown)
    assert all(len(figures) == 1 for figures in shown.values())


def test_constants_are_those_kept_with_the_result(unknown: RunFile) -> None:
    inputs = RunInputs.from_dict(unknown(NOISY))
    outputs = reduce_run(inputs).as_dict()
    gas = next(row for row in outputs["constants"] if row["name"] == "gas constant R")
    gas |= {"value": 8.3, "source": "a table of the year the result was kept"}
    enthalpy = next(s for s in working(inputs, outputs) if s.key == "dc_H")
    kept = next(source for source in enthalpy.sources if source.symbol.key == "R")
    assert kept.symbol.value == 8.3 and kept.words.startswith("a table")
    # Δn·(8.314 − 8.3)·T = 8.6 J/mol moves the second decimal: the step must own up to it.
    assert not enthalpy.closes
    assert enthalpy.result == outputs["combustion"]["dch_kj_per_mol"]


def test_all_digits_are_kept_beside_those_shown(standardization: RunFile) -> None:
    inputs = RunInputs.from_dict(standardization(NOISY))
    outputs = reduce_run(inputs).as_dict()
    capacity = working(inputs, outputs)[-1]
    kept = outputs["heat_capacity"]["at_nominal_water_j_per_k"]
    assert math.isclose(capacity.result, kept, rel_tol=1e-14)
    assert capacity.stated_decimals == 1
    assert capacity.u == outputs["budget"]["heat_capacity"]["u"]


def test_fired_and_settled_times_say_who_set_them(standardization: RunFile) -> None:
    run = standardization(NOISY, fired_at_s=None, settled_at_s=700.0)
    words = {source.symbol.key: source.words for step in steps_of(run) for source in step.sources}
    assert words["t_i"] == "found from the readings" and words["t_f"] == "set by hand"


def test_readings_may_come_in_any_order_with_blank_slots(standardization: RunFile) -> None:
    given = readings(NOISY)
    given["time_s"].insert(3, 100.5)
    given["temperature_c"].insert(3, None)  # type: ignore[arg-type]  # a missed slot
    shuffled = {name: values[::-1] for name, values in given.items()}
    mixed = steps_of(standardization(NOISY, readings=shuffled))
    ordered = steps_of(standardization(NOISY))
    assert [step.symbol.shown for step in mixed] == [step.symbol.shown for step in ordered]
