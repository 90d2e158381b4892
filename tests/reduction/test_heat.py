"""Heats beside the charge's, factors, constants and solved examples."""

import pytest
import scipy.constants
from chemicals.heat_capacity import CRC_standard_data
from CoolProp.CoolProp import PropsSI

from reduction import heat, sources
from reduction.errors import InputError
from reduction.inputs import Acid, Aid, Bomb, Fuse, Thread
from reduction.water import water_density


def test_benzoic_acid_per_gram_weighed_in_air() -> None:
    # b = (1 − 0.0012/8.0)/(1 − 0.0012/1.320): 26 434 J/g in vacuum is 26 454.1 J/g in air.
    # Certificate value and density: NIST SRM 39j.
    factor = heat.buoyancy_factor(sources.BENZOIC_ACID_G_PER_CM3.value)
    in_air = factor * sources.BENZOIC_ACID_J_PER_G.value
    assert in_air == pytest.approx(26454.1, abs=0.05)


def test_conditions_as_certified_leave_the_certificate_alone() -> None:
    # The factor is 1 at 30 atm, 3 g/L of charge and of water, 25 °C (from memory).
    bomb = Bomb(volume_ml=1000.0, water_ml=3.0, oxygen_atm=30.0)
    assert heat.conditions_factor(bomb, 3.0, 25.0) == 1.0


def test_each_condition_moves_the_factor_by_its_coefficient() -> None:
    # 20, 42, 30, −45 parts per million (from memory).
    bomb = Bomb(volume_ml=1000.0, water_ml=3.0, oxygen_atm=30.0)
    assert heat.conditions_factor(Bomb(1000.0, 3.0, 31.0), 3.0, 25.0) == pytest.approx(1 + 20e-6)
    assert heat.conditions_factor(bomb, 4.0, 25.0) == pytest.approx(1 + 42e-6)
    assert heat.conditions_factor(Bomb(1000.0, 4.0, 30.0), 3.0, 25.0) == pytest.approx(1 + 30e-6)
    assert heat.conditions_factor(bomb, 3.0, 26.0) == pytest.approx(1 - 45e-6)


@pytest.mark.parametrize("bomb", [Bomb(), Bomb(340.0, 1.0), Bomb(None, 1.0, 30.0)])
def test_unknown_conditions_give_no_factor(bomb: Bomb) -> None:
    assert heat.conditions_factor(bomb, 1.0, 25.0) is None


def test_heats_are_lots_times_what_was_used() -> None:
    # Nickel-chromium 2.3 cal/cm = 9.6 J/cm (two university course sheets); the rest plain products.
    assert 2.3 * sources.CALORIE_J.value == pytest.approx(9.6, abs=0.03)
    assert heat.fuse_heat(Fuse("J/cm", 9.6, 10.0)) == pytest.approx(96.0)
    assert heat.fuse_heat(Fuse("J/g", 1400.0, 0.01)) == pytest.approx(14.0)
    assert heat.thread_heat(Thread(0.01)) == pytest.approx(175.0)
    assert heat.acid_heat(Acid(10.0, 0.1)) == pytest.approx(59.7)
    assert heat.aids_heat((Aid("oil", 0.1, 40000.0), Aid("capsule", 0.2, 20000.0))) == 8000.0


def test_water_that_is_missing_from_the_bucket_is_missing_from_c() -> None:
    # 50 g · 4.18 J/(g K) = 0.209 kJ/K, with c_p from CoolProp (IAPWS-95).
    assert heat.water_excess_j_per_k(1950.0, 2000.0) == pytest.approx(-209.0, abs=0.1)


@pytest.mark.parametrize("celsius", [15.0, 20.0, 23.0, 25.0, 30.0, 35.0])
def test_the_specific_heat_of_water_is_that_of_iapws_95(celsius: float) -> None:
    package = PropsSI("C", "T", 273.15 + celsius, "P", 101325.0, "Water") / 1000.0
    assert sources.WATER_J_PER_G_K.value == pytest.approx(package, rel=2e-3)
    if celsius == 25.0:
        assert sources.WATER_J_PER_G_K.value == pytest.approx(package, abs=1e-5)


@pytest.mark.parametrize("celsius", [15.0, 18.0, 20.0, 23.0, 25.0, 27.5, 30.0, 35.0])
def test_the_density_of_water_is_that_of_iapws_95(celsius: float) -> None:
    package = PropsSI("D", "T", 273.15 + celsius, "P", 101325.0, "Water") / 1000.0
    assert water_density(celsius) == pytest.approx(package, abs=4e-6)


@pytest.mark.parametrize(
    ("celsius", "kg_per_m3"), [(20.0, 998.207), (23.0, 997.541), (25.0, 997.048)]
)
def test_the_density_of_water_is_as_printed(celsius: float, kg_per_m3: float) -> None:
    # IAPWS-95 by CoolProp, printed to three decimals; Kell's formula is up to 0.003 below.
    assert 1000.0 * water_density(celsius) == pytest.approx(kg_per_m3, abs=0.004)


@pytest.mark.parametrize("celsius", [-1.0, 51.0, 296.15])
def test_no_bucket_holds_ice_or_kelvins(celsius: float) -> None:
    with pytest.raises(InputError, match="0 to 50 °C"):
        water_density(celsius)


def test_unburned_carbon_keeps_its_heat_of_combustion_back() -> None:
    # 393.51 kJ/mol over 12.011 g/mol.
    assert heat.unburned_carbon_j_per_mg() == pytest.approx(32.76, abs=0.005)


def test_constants_are_those_of_scipy() -> None:
    assert sources.GAS_CONSTANT.value == pytest.approx(scipy.constants.R, rel=1e-9)
    assert scipy.constants.calorie == sources.CALORIE_J.value == 4.184
    assert scipy.constants.calorie_IT == sources.CALORIE_IT_J.value == 4.1868


def test_the_specific_heat_of_the_charge_is_that_of_the_tables() -> None:
    # Benzoic acid 1.202 J/(g K): molar heat capacity of the CRC table in the chemicals package.
    molar = CRC_standard_data.at["65-85-0", "Cps"]
    assert molar / 122.12 == pytest.approx(sources.BENZOIC_ACID_J_PER_G_K.value, abs=0.002)


def test_every_constant_names_unit_and_source() -> None:
    listed = [value for value in vars(sources).values() if isinstance(value, sources.Constant)]
    listed += [*sources.FORMATION_KJ_PER_MOL.values(), *sources.ATOMIC_WEIGHTS.values()]
    assert len(listed) > 15
    assert all(constant.unit and constant.source and constant.name for constant in listed)


@pytest.mark.parametrize(
    ("water_g", "equivalent_g", "mass_g", "rise_k", "ancillary_cal", "printed"),
    [
        (1500.0, 125.0, 1.050, 2.8, 0.0, 4333.33),
        (500.0, 2000.0, 1.000, 2.2, 60.0, 5440.0),
        (1080.0, 150.0, 0.681, 3.61, 0.0, 6520.26),
    ],
)
def test_solved_textbook_examples_in_calories(
    water_g: float,
    equivalent_g: float,
    mass_g: float,
    rise_k: float,
    ancillary_cal: float,
    printed: float,
) -> None:
    # GCV = [(w + W)·ΔT − (acid + fuse)]/m, cal/g. Source: FOSSEE, Scilab-TBC-Uploads, folder
    # 615/CH8, solved textbook examples, recomputed. Heat capacity in cal/K: w + W.
    capacity = water_g + equivalent_g
    found = -heat.combustion_energy(capacity, rise_k, ancillary_cal, mass_g)
    assert found == pytest.approx(printed, abs=0.005)


def test_a_heat_capacity_brings_back_the_energy_it_was_made_from() -> None:
    capacity = heat.heat_capacity(26434.0 + 100.0, 2.6)
    assert heat.combustion_energy(capacity, 2.6, 100.0, 1.0) == pytest.approx(-26434.0)
