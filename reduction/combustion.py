"""From a formula to the combustion equation, and from ΔU per gram to ΔH per mole and formation.

`C_a H_b O_c N_d S_e + ν O2(g) → a CO2(g) + (b − 2e)/2 H2O(l) + d/2 N2(g) + e H2SO4(aq)`.
"""

import re
from collections import Counter
from dataclasses import dataclass

from reduction import sources
from reduction.errors import InputError

TOKEN = re.compile(r"([A-Z][a-z]?)(\d*)|(\()|\)(\d*)")
PLAIN_DIGITS = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")


@dataclass(frozen=True)
class Equation:
    """A balanced combustion of one mole; amounts in mol, Δn of the gases."""

    formula: str
    phase: str
    atoms: dict[str, int]
    oxygen: float
    carbon_dioxide: float
    water: float
    nitrogen: float
    sulfuric_acid: float

    @property
    def dn_gas(self) -> float:
        """Gaseous products less gaseous reactants, mol."""
        burned_gas = 1.0 if self.phase == "g" else 0.0
        return self.carbon_dioxide + self.nitrogen - self.oxygen - burned_gas

    @property
    def states(self) -> str:
        """The states the products are counted in."""
        named = [
            (self.carbon_dioxide, "CO2 as a gas"),
            (self.water, "H2O as a liquid"),
            (self.nitrogen, "N2 as a gas"),
            (self.sulfuric_acid, "H2SO4 dissolved in 115 H2O"),
        ]
        return ", ".join(words for amount, words in named if amount)

    def __str__(self) -> str:
        products = [
            (self.carbon_dioxide, "CO2(g)"),
            (self.water, "H2O(l)"),
            (self.nitrogen, "N2(g)"),
            (self.sulfuric_acid, "H2SO4(aq)"),
        ]
        right = " + ".join(_term(amount, name) for amount, name in products if amount)
        return f"{self.formula}({self.phase}) + {_term(self.oxygen, 'O2(g)')} → {right}"


def _term(amount: float, name: str) -> str:
    return name if amount == 1.0 else f"{amount:g} {name}"


def parse_formula(formula: str) -> dict[str, int]:
    """Atoms of each element in a formula of C, H, O, N and S; groups in parentheses allowed.

    Raises InputError with what could not be read. Example: `C6H5COOH` is C 7, H 6, O 2.
    """
    text = formula.translate(PLAIN_DIGITS).replace(" ", "")
    open_groups: list[Counter[str]] = [Counter()]
    position = 0
    while position < len(text):
        token = TOKEN.match(text, position)
        if token is None or (text[position] == ")" and len(open_groups) == 1):
            raise _unreadable(formula, text[position:])
        if token[1]:
            if token[1] not in sources.ATOMIC_WEIGHTS:
                raise InputError(
                    "formula",
                    f"{formula!r} holds {token[1]}; expected only the elements C, H, O, N and S.",
                )
            open_groups[-1][token[1]] += int(token[2] or 1)
        elif token[3]:
            open_groups.append(Counter())
        else:
            group, times = open_groups.pop(), int(token[4] or 1)
            open_groups[-1].update({element: n * times for element, n in group.items()})
        position = token.end()
    if len(open_groups) > 1 or not +open_groups[0]:
        raise _unreadable(formula, text)
    return dict(open_groups[0])


def _unreadable(formula: str, rest: str) -> InputError:
    return InputError(
        "formula", f"{formula!r} cannot be read at {rest[:10]!r}; expected a formula like C7H6O2."
    )


def molar_mass(formula: str) -> float:
    """Molar mass [g/mol] from IUPAC abridged atomic weights."""
    atoms = parse_formula(formula)
    return sum(sources.ATOMIC_WEIGHTS[element].value * n for element, n in atoms.items())


def balance(formula: str, phase: str = "s") -> Equation:
    """The complete combustion of one mole to CO2(g), H2O(l), N2(g) and dilute H2SO4.

    Raises InputError for what cannot burn so: nothing to oxidise, or too little H for its S.
    """
    atoms = parse_formula(formula)
    a, b, c, d, e = (atoms.get(element, 0) for element in "CHONS")
    oxygen = a + b / 4 + 1.5 * e - c / 2
    if oxygen <= 0 or b < 2 * e:
        raise InputError(
            "formula",
            f"{formula!r} does not burn to CO2, H2O, N2 and H2SO4; expected something to oxidise "
            "and two H for each S.",
        )
    return Equation(formula, phase, atoms, oxygen, float(a), (b - 2 * e) / 2, d / 2, float(e))


def combustion_enthalpy(dcu_kj_per_mol: float, dn_gas: float) -> float:
    """`Δ_cH = Δ_cU + Δn·R·T` [kJ/mol] at 298.15 K, gases ideal."""
    rt = sources.GAS_CONSTANT.value * sources.REFERENCE_TEMPERATURE_K.value / 1000.0
    return dcu_kj_per_mol + dn_gas * rt


@dataclass(frozen=True)
class Conversion:
    """A molar energy of combustion brought to the gram; `steps` writes it out."""

    dcu_kj_per_mol: float
    molar_mass: float
    steps: str

    @property
    def j_per_g(self) -> float:
        """Heat released, `|Δu| = −1000·Δ_cU/M` [J/g]."""
        return -1000.0 * self.dcu_kj_per_mol / self.molar_mass


def per_gram(
    formula: str, *, dch_kj_per_mol: float | None = None, dcu_kj_per_mol: float | None = None
) -> Conversion:
    """`Δ_cU = Δ_cH − Δn·R·T`, then over M: a published molar value of a solid [kJ/mol].

    Raises InputError for a formula that does not balance, or a value that is not negative.
    """
    equation, mass = balance(formula), molar_mass(formula)
    added = combustion_enthalpy(0.0, equation.dn_gas)
    given = dch_kj_per_mol if dcu_kj_per_mol is None else dcu_kj_per_mol
    if given is None or given >= 0:
        raise InputError(
            "standard", f"{given} kJ/mol cannot be used; combustion releases heat: below 0."
        )
    dcu = given - added if dcu_kj_per_mol is None else given
    steps = f"Δ_cU = {given:.10g} kJ/mol"
    if dcu_kj_per_mol is None:
        steps = (
            f"Δ_cU = Δ_cH − Δn·R·T = {given:.10g} − ({equation.dn_gas:g} · "
            f"{sources.GAS_CONSTANT.value:.7g} · {sources.REFERENCE_TEMPERATURE_K.value:g}/1000) "
            f"= {dcu:.3f} kJ/mol"
        )
    steps += f"; −1000·Δ_cU/M, M = {mass:.3f} g/mol: {-1000.0 * dcu / mass:.2f} J/g"
    return Conversion(dcu, mass, steps.replace("-", "−"))


def formation_enthalpy(equation: Equation, dch_kj_per_mol: float) -> float:
    """Hess: `Δ_fH = Σ Δ_fH(products) − Δ_cH` [kJ/mol]; O2 and N2 count zero.

    The same sum gives Δ_cH from Δ_fH.
    """
    formation = sources.FORMATION_KJ_PER_MOL
    products = (
        equation.carbon_dioxide * formation["CO2"].value
        + equation.water * formation["H2O"].value
        + equation.sulfuric_acid * formation["H2SO4"].value
    )
    return products - dch_kj_per_mol


def standard_state_excess(
    equation: Equation, oxygen_atm: float, dcu_kj_per_mol: float
) -> float | None:
    """Relative excess of the bomb value over the standard state, an estimate; None without C.

    `(0.30·p·a/U_B)·[1 − 1.1(b − 2c)/(4a) + 2/p]` percent for C_aH_bO_c, p in atm,
    U_B = −Δ_cU in kcal/mol. Washburn 1933, from memory. Not made for N and S: None.
    """
    a, b, c = (equation.atoms.get(element, 0) for element in "CHO")
    if not a or equation.nitrogen or equation.sulfuric_acid:
        return None
    burned_kcal = -dcu_kj_per_mol / sources.CALORIE_J.value
    shape = 1.0 - 1.1 * (b - 2 * c) / (4 * a) + 2.0 / oxygen_atm
    percent = sources.STANDARD_STATE.value * oxygen_atm * a / burned_kcal * shape
    return percent / 100.0
