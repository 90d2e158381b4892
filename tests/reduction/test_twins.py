"""The twin of a hand value names the slip that made it, and leaves honest differences alone."""

import pytest
import scipy.constants

from reduction import InputError
from reduction.combustion import balance
from reduction.twins import Quantity, twin_note

# Naphthalene: Coleman and Pilcher 1966, Δ_cH −5156.15 kJ/mol; M and Δn by its formula.
MASS = 128.174
RT = scipy.constants.R * 298.15 / 1000.0
DCH = Quantity(-5156.15, MASS, -2.0, balance("C10H8"))
DCU = Quantity(-5156.15 + 2.0 * RT, MASS, -2.0, balance("C10H8"))
DU = Quantity(-40189.0, MASS)
CAPACITY = Quantity(10135.0)


@pytest.mark.parametrize(
    ("hand", "quantity", "code", "words"),
    [
        (5156.15, DCH, "sign", "opposite sign"),
        (-5156.15 * 4.184, DCH, "calorie", "4.184 times ours"),
        (-5156.15 / 4.184, DCH, "calorie", "divided by 4.184"),
        (10135.0 * 4.1868, CAPACITY, "calorie_it", "4.1868 times ours"),
        (10135.0 * 4.184, CAPACITY, "calorie", "4.184 times ours"),
        (10.135, CAPACITY, "kilo", "divided by 1000"),
        (-40.189, DU, "kilo", "divided by 1000"),
        (-40189.0 * MASS, DU, "molar_mass", "128.17 times ours"),
        (-40189.0 * MASS / 1000.0, DU, "molar_mass_kilo", "divided by 7.8"),
        (-40189.0 / MASS, DU, "molar_mass", "divided by 128.17"),
        (10135.0 * 4.1868 / 4.184, CAPACITY, "two_calories", "1.0007 times ours"),
        (-5156.15 + 2.0 * RT, DCH, "dn_rt", "by +4.958 kJ/mol"),
        (-5156.15, DCU, "dn_rt", "by −4.958 kJ/mol"),
        (-5156.15 + 4.0 * RT, DCH, "dn_rt_sign", "wrong sign"),
        (DCU.value - 2.0 * scipy.constants.R * 25.0 / 1000.0, DCH, "rt_celsius", "°C"),
        (DCU.value + 10.0 * RT, DCH, "dn_oxygen", "oxygen"),
        (DCU.value - 2000.0 * RT, DCH, "r_joule", "divide by 1000"),
    ],
)
def test_each_slip_is_named_by_its_size(
    hand: float, quantity: Quantity, code: str, words: str
) -> None:
    note = twin_note(hand, quantity)
    assert note is not None and note.code == code and note.severity == "W"
    assert words in f"{note.sentence} {note.advice}"


def test_water_counted_as_a_gas_is_named() -> None:
    # C12H22O11 + 12 O2 → 12 CO2 + 11 H2O: Δn 0 with liquid water, so Δ_cH = Δ_cU; 11 with steam.
    sucrose = Quantity(-5643.4, 342.297, 0.0, balance("C12H22O11"))
    note = twin_note(-5643.4 + 11.0 * RT, sucrose)
    assert note is not None and note.code == "dn_water"


@pytest.mark.parametrize(
    ("hand", "code"),
    [
        (5156.15 / 4.184, "calorie"),
        (5156.15 * 1000.0, "kilo"),
        (-5156.15 * 1000.0 / 4.184, "calorie"),
    ],
)
def test_two_slips_at_once_are_named_together(hand: float, code: str) -> None:
    note = twin_note(hand, DCH)
    assert note is not None and note.code == code


def test_a_rounded_hand_value_still_shows_its_slip() -> None:
    # −5151 to the kilojoule for −5151.19.
    assert twin_note(-5151.0, DCH, step=1.0).code == "dn_rt"  # type: ignore[union-attr]  # is a note
    assert twin_note(-1232.0, DCH, step=1.0).code == "calorie"  # type: ignore[union-attr]  # likewise
    assert twin_note(-5156.0, DCH, step=1.0) is None


@pytest.mark.parametrize(
    "hand", [-5156.15, -5156.2, -5170.0, -5120.0, -5100.0, -5300.0, -4000.0, -10000.0, -20000.0]
)
def test_an_honest_difference_has_no_twin(hand: float) -> None:
    assert twin_note(hand, DCH) is None


@pytest.mark.parametrize("off", [0.5, 0.9, 0.97, 1.004, 1.03, 1.1, 2.0, 10.0, 100.0])
def test_no_slip_is_read_into_another_factor(off: float) -> None:
    assert twin_note(10135.0 * off, CAPACITY) is None


@pytest.mark.parametrize(("hand", "ours"), [(0.0, 1.0), (1.0, 0.0)])
def test_nothing_cannot_be_compared(hand: float, ours: float) -> None:
    with pytest.raises(InputError, match="cannot be compared"):
        twin_note(hand, Quantity(ours))
