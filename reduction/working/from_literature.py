"""The heat of a standard from a published molar value in place of a certificate."""

from reduction.combustion import Conversion, Equation, balance
from reduction.inputs import Standard
from reduction.working.expressions import (
    Difference,
    Negative,
    Number,
    Product,
    Quotient,
    Symbol,
)
from reduction.working.heats import PART, is_applied
from reduction.working.ledger import Ledger
from reduction.working.molar import (
    PER_MOLE,
    gas_work,
    write_excess,
    write_gas,
    write_molar_mass,
)


def write_from_literature(
    ledger: Ledger, standard: Standard, literature: Conversion
) -> list[Symbol]:
    """`e = −1000·Δ_cU/M`, and the factor that brings it to the bomb where that is applied."""
    equation = balance(standard.formula or "")
    energy = _write_energy(ledger, standard, literature, equation)
    mass = write_molar_mass(ledger, PART, standard.name, equation)
    scaled = Product((Number("1000", "J/kJ"), energy))
    heat = ledger.write(
        PART,
        f"Heat of {standard.name} per gram, from the literature",
        Symbol("e_std", "J/g", standard.j_per_g, 2),
        Negative(Quotient(scaled, mass)),
        "Positive: heat released.",
    )
    if not is_applied(ledger, "standard_state"):
        return [heat]
    excess = write_excess(ledger, PART, equation, energy)
    factor = ledger.write(
        PART,
        "From the standard state to the bomb",
        Symbol("f_bomb", "", None, 7),
        Quotient(Number("1"), Difference(Number("1"), excess)),
    )
    return [heat, factor]


def _write_energy(
    ledger: Ledger, standard: Standard, literature: Conversion, equation: Equation
) -> Symbol:
    citation = standard.citation or "entered with the lot"
    if standard.dcu_kj_per_mol is not None:
        return ledger.enter("dc_U_std", standard.dcu_kj_per_mol, PER_MOLE, citation)
    published = ledger.enter("dc_H_std", standard.dch_kj_per_mol or 0.0, PER_MOLE, citation)
    gas = write_gas(ledger, PART, equation)
    return ledger.write(
        PART,
        f"Molar energy of combustion of {standard.name}",
        Symbol("dc_U_std", PER_MOLE, literature.dcu_kj_per_mol, 3),
        Difference(published, gas_work(ledger, gas)),
    )
