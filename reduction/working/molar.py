"""Pieces of the way between the gram and the mole, for a sample and for a literature value."""

from decimal import Decimal

from reduction import sources
from reduction.combustion import Equation
from reduction.working.expressions import (
    Bracket,
    Difference,
    Expression,
    Negative,
    Number,
    Product,
    Quotient,
    Sum,
    Symbol,
    less,
    total,
)
from reduction.working.ledger import Ledger

PER_MOLE, KILO = "kJ/mol", Number("1000", "J/kJ")
ESTIMATE = (
    "An estimate by Washburn’s approximate formula, from memory, for a substance of C, H and O "
    "only. The 100 makes a fraction of a percentage."
)


def write_molar_mass(ledger: Ledger, part: str, name: str, equation: Equation) -> Symbol:
    """`M` from the atomic weights."""
    terms = [
        Product(
            (
                _atoms(ledger, equation, element),
                ledger.constant(f"M_{element}", sources.ATOMIC_WEIGHTS[element]),
            )
        )
        for element in equation.atoms
    ]
    remark = f"From the formula {equation.formula}."
    title = f"Molar mass of {name}"
    return ledger.write(part, title, Symbol("M", "g/mol", None, 3), total(*terms), remark)


def _atoms(ledger: Ledger, equation: Equation, element: str) -> Symbol:
    count = equation.atoms.get(element, 0)
    return ledger.enter(f"N_{element}", count, "", "the formula")


def write_gas(ledger: Ledger, part: str, equation: Equation) -> Symbol:
    """The change in moles of gas: products less what is used up."""
    gases = (("nu_CO2", equation.carbon_dioxide), ("nu_N2", equation.nitrogen))
    made = [ledger.enter(key, amount, "", "the equation") for key, amount in gases if amount]
    used: list[Expression] = [ledger.enter("nu_O2", equation.oxygen, "", "the equation")]
    if equation.phase == "g":
        used.append(Number("1"))
    change: Expression | None = total(*made) if made else None
    for gas in used:
        change = Negative(gas) if change is None else Difference(change, gas)
    found = Symbol("dn_g", "", equation.dn_gas, _decimals(equation.dn_gas))
    remark = f"{equation}. Only gases count."
    return ledger.write(part, "Change in moles of gas", found, change, remark)


def _decimals(number: float) -> int:
    exponent = Decimal(repr(number)).normalize().as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def gas_work(ledger: Ledger, gas: Symbol) -> Quotient:
    """`Δn·R·T` [kJ/mol]."""
    constant = ledger.constant("R", sources.GAS_CONSTANT)
    temperature = ledger.constant("T_ref", sources.REFERENCE_TEMPERATURE_K)
    return Quotient(Product((gas, constant, temperature)), KILO)


def write_excess(ledger: Ledger, part: str, equation: Equation, energy: Symbol) -> Symbol:
    """The relative excess of the bomb's value over that of the standard state."""
    a, b, c = (_atoms(ledger, equation, element) for element in "CHO")
    burned = ledger.write(
        part,
        "The same in kilocalories, positive",
        Symbol("U_B", "kcal/mol", None, 3),
        Quotient(Negative(energy), ledger.constant("cal", sources.CALORIE_J)),
    )
    slope = ledger.constant("k_W", sources.STANDARD_STATE)
    oxygen = ledger.enter("p", ledger.inputs.bomb.oxygen_atm or 0.0, "atm", "run sheet")
    hydrogen = Product((Number("1.1"), less(b, Product((Number("2"), c)))))
    shape = Sum(
        (
            Difference(Number("1"), Quotient(hydrogen, Product((Number("4"), a)))),
            Quotient(Number("2", "atm"), oxygen),
        )
    )
    scale = Quotient(Product((slope, oxygen, a)), Product((Number("100"), burned)))
    return ledger.write(
        part,
        "Excess of the bomb’s value over the standard state",
        Symbol("epsilon", "", None, 7),
        Product((scale, Bracket(shape))),
        ESTIMATE,
    )
