"""From joules per gram to energy, enthalpy and formation per mole, and to the literature."""

from reduction import sources
from reduction.combustion import Equation, balance
from reduction.inputs import Literature
from reduction.working.capacity import uncertainty
from reduction.working.expressions import (
    Bracket,
    Difference,
    Number,
    Product,
    Quotient,
    Sum,
    Symbol,
    less,
    total,
)
from reduction.working.heats import is_applied
from reduction.working.ledger import Ledger
from reduction.working.lines import found
from reduction.working.molar import (
    KILO,
    PER_MOLE,
    gas_work,
    write_excess,
    write_gas,
    write_molar_mass,
)

MOLES, LITERATURE = "moles", "literature"


def write_moles(ledger: Ledger) -> None:
    """Everything per mole, where the identity is known and its formula burns."""
    kept, substance = ledger.outputs["combustion"], ledger.inputs.substance
    if kept is None or substance is None or kept.get("dcu_kj_per_mol") is None:
        return
    equation = balance(substance.formula, substance.phase)
    mass = write_molar_mass(ledger, MOLES, substance.name, equation)
    energy = _write_energy(ledger, mass, equation)
    enthalpy = _write_enthalpy(ledger, energy, write_gas(ledger, MOLES, equation))
    _write_formation(ledger, equation, enthalpy)
    if substance.literature is not None:
        _write_against(ledger, substance.literature, enthalpy)


def _write_energy(ledger: Ledger, mass: Symbol, equation: Equation) -> Symbol:
    """`Δ_cU = M·Δu`, brought to the standard state where that is applied."""
    per_mole = Quotient(Product((mass, found(ledger, "dc_u"))), KILO)
    title, u = "Molar energy of combustion", uncertainty(ledger, "dcu")
    value = Symbol("dc_U", PER_MOLE, ledger.outputs["combustion"]["dcu_kj_per_mol"], 2)
    if not is_applied(ledger, "standard_state"):
        return ledger.write(MOLES, title, value, per_mole, u=u, stated=2)
    in_bomb = Symbol("dc_U_bomb", PER_MOLE, None, 2)
    bomb = ledger.write(MOLES, f"{title} in the bomb", in_bomb, per_mole)
    excess = write_excess(ledger, MOLES, equation, bomb)
    standard = Product((bomb, less(Number("1"), excess)))
    title = f"{title} in the standard state"
    remark = "An estimate, as the excess is."
    return ledger.write(MOLES, title, value, standard, remark, u=u, stated=2)


def _write_enthalpy(ledger: Ledger, energy: Symbol, gas: Symbol) -> Symbol:
    return ledger.write(
        MOLES,
        "Molar enthalpy of combustion",
        Symbol("dc_H", PER_MOLE, ledger.outputs["combustion"]["dch_kj_per_mol"], 2),
        Sum((energy, gas_work(ledger, gas))),
        "The gases are taken as ideal; they push the air back, or let it in.",
        u=uncertainty(ledger, "dch"),
        stated=2,
    )


def _write_formation(ledger: Ledger, equation: Equation, enthalpy: Symbol) -> None:
    made = (
        ("CO2", equation.carbon_dioxide),
        ("H2O", equation.water),
        ("H2SO4", equation.sulfuric_acid),
    )
    terms = [
        Product(
            (
                ledger.enter(f"nu_{name}", amount, "", "the equation"),
                ledger.constant(f"df_H_{name}", sources.FORMATION_KJ_PER_MOL[name]),
            )
        )
        for name, amount in made
        if amount
    ]
    ledger.write(
        MOLES,
        "Enthalpy of formation, by Hess’s law",
        Symbol("df_H", PER_MOLE, ledger.outputs["combustion"]["dfh_kj_per_mol"], 2),
        Difference(total(*terms), enthalpy),
        "Elements in their standard states, O₂ and N₂ among them, count zero.",
        u=uncertainty(ledger, "dfh"),
        stated=1,
    )


def _write_against(ledger: Ledger, literature: Literature, enthalpy: Symbol) -> None:
    published = ledger.enter("dc_H_lit", literature.dch_kj_per_mol, PER_MOLE, literature.citation)
    spread = "" if literature.u is None else f" Published uncertainty: {literature.u:g} kJ/mol."
    ratio = Difference(Quotient(enthalpy, published), Number("1"))
    ledger.write(
        LITERATURE,
        "This run against the literature",
        Symbol("delta", "%", ledger.outputs["combustion"]["literature"]["difference_percent"], 3),
        Product((Number("100", "%"), Bracket(ratio))),
        f"Positive: this run found more heat.{spread}",
        stated=2,
    )
