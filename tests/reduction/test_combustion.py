"""Formulas, equations and Hess's law against published tables and a second package."""

import pytest
from chemicals import simple_formula_parser
from chemicals.combustion import HHV_stoichiometry, combustion_stoichiometry
from chemicals.reaction import Hfs
from molmass import Formula

from reduction import InputError
from reduction.combustion import (
    balance,
    combustion_enthalpy,
    formation_enthalpy,
    molar_mass,
    parse_formula,
    per_gram,
    standard_state_excess,
)

# Formula, CAS number, Δ_cH in kJ/mol by Hess's law from the CRC table of the chemicals package.
SOLIDS = [
    ("C7H6O2", "65-85-0", -3226.86),
    ("C10H8", "91-20-3", -5156.92),
    ("C12H22O11", "57-50-1", -5640.15),
    ("C7H6O3", "69-72-7", -3022.16),
    ("CH4N2O", "57-13-6", -632.07),
    ("C6H8O6", "50-81-7", -2339.78),
    ("C2H5NO2", "56-40-6", -973.10),
    ("C8H9NO", "103-84-4", -4224.91),
    ("C14H10", "85-01-8", -7054.49),
]


@pytest.mark.parametrize(("formula", "cas", "printed"), SOLIDS)
def test_hess_gives_the_enthalpy_of_combustion(formula: str, cas: str, printed: float) -> None:
    equation = balance(formula)
    formation = Hfs(cas, method="CRC") / 1000.0  # Hess's sum serves both ways
    found = formation_enthalpy(equation, formation)
    assert found == pytest.approx(printed, abs=0.5)
    assert formation_enthalpy(equation, found) == pytest.approx(formation)


@pytest.mark.parametrize(
    ("formula", "dch", "u"),
    [
        ("C10H8", -5156.15, 0.92),  # Coleman and Pilcher, Trans. Faraday Soc. 62 (1966) 821
        ("C12H22O11", -5643.4, 1.8),  # NIST Chemistry WebBook, reanalysed 1960 value
        ("C7H6O2", -3226.87, 0.18),  # NIST Chemistry WebBook, 1969 value
    ],
)
def test_measured_enthalpies_agree_with_hess(formula: str, dch: float, u: float) -> None:
    cas = next(cas for name, cas, _ in SOLIDS if name == formula)
    found = formation_enthalpy(balance(formula), Hfs(cas, method="CRC") / 1000.0)
    assert found == pytest.approx(dch, abs=2 * u + 0.5)


def test_benzoic_acid_per_mole_and_per_gram() -> None:
    # Hess from the CRC table: Δ_cU −3225.62 kJ/mol, 26 413.2 J/g; standard state from memory
    # 26 413.7 J/g.
    equation = balance("C7H6O2")
    dch = formation_enthalpy(equation, Hfs("65-85-0", method="CRC") / 1000.0)
    dcu = dch - (combustion_enthalpy(0.0, equation.dn_gas))
    assert dcu == pytest.approx(-3225.62, abs=0.5)
    assert -1000.0 * dcu / molar_mass("C7H6O2") == pytest.approx(26413.2, abs=5.0)


@pytest.mark.parametrize(("formula", "dn"), [("C10H8", -2.0), ("C7H6O2", -0.5), ("CH4N2O", 0.5)])
def test_only_gases_count_in_dn(formula: str, dn: float) -> None:
    # C10H8 + 12 O2 → 10 CO2 + 4 H2O(l); C7H6O2 + 7.5 O2 → 7 CO2 + 3 H2O(l);
    # CH4N2O + 1.5 O2 → CO2 + 2 H2O(l) + N2.
    assert balance(formula).dn_gas == dn
    assert balance(formula, "g").dn_gas == dn - 1.0


def test_enthalpy_of_naphthalene_from_its_energy() -> None:
    # Δn·R·T = −2 · 8.314462618 J/(mol K) (CODATA, scipy.constants) · 298.15 K = −4.958 kJ/mol.
    assert combustion_enthalpy(-5151.19, -2.0) == pytest.approx(-5156.148, abs=0.001)


@pytest.mark.parametrize(
    ("formula", "equation"),
    [
        ("C10H8", "C10H8(s) + 12 O2(g) → 10 CO2(g) + 4 H2O(l)"),
        ("C7H6O2", "C7H6O2(s) + 7.5 O2(g) → 7 CO2(g) + 3 H2O(l)"),
        ("C2H5NO2", "C2H5NO2(s) + 2.25 O2(g) → 2 CO2(g) + 2.5 H2O(l) + 0.5 N2(g)"),
        ("C12H8S2", "C12H8S2(s) + 17 O2(g) → 12 CO2(g) + 2 H2O(l) + 2 H2SO4(aq)"),
    ],
)
def test_the_equation_is_written_out(formula: str, equation: str) -> None:
    assert str(balance(formula)) == equation


@pytest.mark.parametrize("formula", [row[0] for row in SOLIDS] + ["C12H8S2", "C16H32O2", "CH4"])
def test_every_element_balances(formula: str) -> None:
    equation, atoms = balance(formula), parse_formula(formula)
    oxygen = 2 * equation.carbon_dioxide + equation.water + 4 * equation.sulfuric_acid
    assert equation.carbon_dioxide == atoms.get("C", 0)
    assert 2 * equation.water + 2 * equation.sulfuric_acid == atoms.get("H", 0)
    assert 2 * equation.nitrogen == atoms.get("N", 0)
    assert equation.sulfuric_acid == atoms.get("S", 0)
    assert oxygen == atoms.get("O", 0) + 2 * equation.oxygen


@pytest.mark.parametrize("formula", [row[0] for row in SOLIDS] + ["C12H8S2", "C6H5COOH"])
def test_molar_masses_agree_with_a_second_package(formula: str) -> None:
    assert molar_mass(formula) == pytest.approx(Formula(formula).mass, rel=5e-5)


@pytest.mark.parametrize(
    ("written", "atoms"),
    [
        ("C6H5COOH", {"C": 7, "H": 6, "O": 2}),
        ("CO(NH2)2", {"C": 1, "O": 1, "N": 2, "H": 4}),
        ("CH3(CH2)14COOH", {"C": 16, "H": 32, "O": 2}),
        ("C₁₀H₈", {"C": 10, "H": 8}),
        ("C12 H22 O11", {"C": 12, "H": 22, "O": 11}),
    ],
)
def test_formulas_are_read_as_chemists_write_them(written: str, atoms: dict[str, int]) -> None:
    assert parse_formula(written) == atoms


@pytest.mark.parametrize(
    ("written", "complaint"),
    [
        ("c7h6o2", "cannot be read at 'c7h6o2'"),
        ("C7H6O2Cl", "holds Cl"),
        ("C7(H6O2", "cannot be read"),
        ("C7H6)2", "cannot be read at '\\)2'"),
        ("", "cannot be read"),
        ("7C", "cannot be read"),
        ("C0", "cannot be read"),
    ],
)
def test_what_is_no_formula_is_refused_with_what_was_seen(written: str, complaint: str) -> None:
    with pytest.raises(InputError, match=complaint):
        parse_formula(written)


@pytest.mark.parametrize("formula", ["CO2", "H2O", "CS2", "N2"])
def test_what_does_not_burn_to_these_products_is_refused(formula: str) -> None:
    with pytest.raises(InputError, match="does not burn"):
        balance(formula)


def test_the_standard_state_estimate_for_benzoic_acid() -> None:
    # Washburn's approximate formula, from memory: 0.081 % at 30 atm; the certificate's
    # 26 434 J/g against 26 413.7 J/g is 0.077 %.
    excess = standard_state_excess(balance("C7H6O2"), 30.0, -3226.0)
    assert excess is not None
    assert 100.0 * excess == pytest.approx(0.081, abs=0.0005)
    assert 100.0 * excess == pytest.approx(100.0 * (26434.0 / 26413.7 - 1.0), abs=0.005)


def test_the_standard_state_estimate_is_not_made_for_nitrogen_or_sulfur() -> None:
    assert standard_state_excess(balance("C2H5NO2"), 30.0, -970.0) is None


# More solids in the CRC table of the chemicals package: formula and CAS number.
MORE_SOLIDS = [
    ("C12H10", "92-52-4"),
    ("C14H10", "120-12-7"),
    ("C16H10", "129-00-0"),
    ("C18H12", "218-01-9"),
    ("C13H10", "86-73-7"),
    ("C4H6O4", "110-15-6"),
    ("C4H4O4", "110-17-8"),
    ("C4H4O4", "110-16-7"),
    ("C6H10O4", "124-04-9"),
    ("C8H6O4", "88-99-3"),
    ("C8H4O3", "85-44-9"),
    ("C6H8O7", "77-92-9"),
    ("C2H2O4", "144-62-7"),
    ("C6H6O2", "123-31-9"),
    ("C6H6O", "108-95-2"),
    ("C3H7NO2", "56-41-7"),
    ("C5H9NO4", "56-86-0"),
    ("C16H32O2", "57-10-3"),
    ("C18H36O2", "57-11-4"),
    ("C7H7NO2", "118-92-3"),
    ("C5H4N4O3", "69-93-2"),
]
ALL_SOLIDS = [(formula, cas) for formula, cas, _ in SOLIDS] + MORE_SOLIDS


@pytest.mark.parametrize(("formula", "cas"), ALL_SOLIDS)
def test_hess_agrees_with_a_second_package(formula: str, cas: str) -> None:
    # chemicals.combustion, higher heating value from its own Δ_fH of CO2 and H2O (−393.474 and
    # −285.825 kJ/mol, 0.036 and 0.005 off ours) and the same CRC formation enthalpy.
    formation = Hfs(cas, method="CRC")
    stoichiometry = combustion_stoichiometry(simple_formula_parser(formula))
    other = HHV_stoichiometry(stoichiometry, formation) / 1000.0
    equation = balance(formula)
    found = formation_enthalpy(equation, formation / 1000.0)
    assert found == pytest.approx(other, abs=0.05 * equation.carbon_dioxide + 0.05)
    assert equation.oxygen == pytest.approx(-stoichiometry["O2"])


def test_there_are_enough_solids_to_check_against() -> None:
    assert len({cas for _, cas in ALL_SOLIDS}) >= 30


@pytest.mark.parametrize("formula", sorted({formula for formula, _ in MORE_SOLIDS}))
def test_more_molar_masses_agree_with_a_second_package(formula: str) -> None:
    assert molar_mass(formula) == pytest.approx(Formula(formula).mass, rel=5e-5)


def test_sulfur_burns_to_dilute_sulfuric_acid() -> None:
    # Thianthrene, the sulfur standard: −33 468 J/g (from memory), Δ_fH from the CRC table.
    equation = balance("C12H8S2")
    dch = formation_enthalpy(equation, Hfs("92-85-3", method="CRC") / 1000.0)
    dcu = dch - combustion_enthalpy(0.0, equation.dn_gas)
    assert equation.dn_gas == 12 - 17
    assert 1000.0 * dcu / molar_mass("C12H8S2") == pytest.approx(-33468.0, abs=10.0)
    assert equation.states == "CO2 as a gas, H2O as a liquid, H2SO4 dissolved in 115 H2O"


def test_nitrogen_and_sulfur_in_one_compound_are_written_out() -> None:
    # L-cysteine, by hand: 3 C, 7 H, 2 O, 1 N, 1 S.
    equation = balance("C3H7NO2S")
    assert str(equation) == (
        "C3H7NO2S(s) + 5.25 O2(g) → 3 CO2(g) + 2.5 H2O(l) + 0.5 N2(g) + H2SO4(aq)"
    )
    assert equation.dn_gas == 3 + 0.5 - 5.25


def test_a_literature_enthalpy_is_brought_to_the_gram_step_by_step() -> None:
    # NIST Chemistry WebBook, benzoic acid 1969: −3226.87 kJ/mol; Δn·R·T = −1.239 kJ/mol. The
    # certificate's value at the standard state is 26 413.7 J/g (from memory).
    found = per_gram("C7H6O2", dch_kj_per_mol=-3226.87)
    assert found.dcu_kj_per_mol == pytest.approx(-3225.63, abs=0.005)
    assert found.j_per_g == pytest.approx(26413.7, abs=3.0)
    assert "Δ_cH − Δn·R·T = −3226.87 − (−0.5 · 8.314463 · 298.15/1000) = −3225.631" in found.steps
    assert "M = 122.123 g/mol" in found.steps
    straight = per_gram("C7H6O2", dcu_kj_per_mol=found.dcu_kj_per_mol)
    assert straight.j_per_g == found.j_per_g and "Δn" not in straight.steps


@pytest.mark.parametrize("value", [0.0, 3226.87])
def test_a_literature_value_must_release_heat(value: float) -> None:
    with pytest.raises(InputError, match="below 0"):
        per_gram("C7H6O2", dch_kj_per_mol=value)
