"""The slips that turn one value into its twin: named when a hand value shows them, not mended."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

from reduction import sources
from reduction.combustion import Equation
from reduction.errors import InputError
from reduction.notes import WARN, Note

AGREES = 2e-4
"""Values this close [relative] agree: rounding of the last digits."""
HAND = 0.01
"""How far [relative] a hand value with a slip may stray: rulers and roundings."""
SHARP = 0.05
"""How far, as a share of the slip itself, where the slip is small."""


@dataclass(frozen=True)
class Quantity:
    """Our value of a quantity and what is needed to name its twins; None where it has no meaning.

    value [any unit]; molar_mass [g/mol]; dn_gas and equation for Δ_cU and Δ_cH [kJ/mol] only.
    """

    value: float
    molar_mass: float | None = None
    dn_gas: float | None = None
    equation: Equation | None = None
    temperature_k: float = sources.REFERENCE_TEMPERATURE_K.value


@dataclass(frozen=True)
class Slip:
    """A likely slip: its code, what it multiplies or adds, and the question to ask."""

    code: str
    factor: float
    question: str
    added: float = 0.0

    def makes_of(self, ours: float) -> float:
        """The value the slip would make of ours."""
        return ours * self.factor + self.added


def twin_note(hand: float, quantity: Quantity, step: float = 0.0) -> Note | None:
    """The likely slip between a hand value and ours, in the same stated unit, or None.

    `step` is one unit of the last digit of the hand value. None where they agree, and where no slip
    explains the difference. Of several slips the one that comes nearest is named, single slips
    before double ones. Raises InputError for a value of 0.
    """
    ours = quantity.value
    if hand == 0.0 or ours == 0.0:
        raise InputError("value", "0 cannot be compared; expected two values other than 0.")
    if abs(hand - ours) <= AGREES * abs(ours) + step / 2.0:
        return None
    single = [*_differences(quantity), *_ratios(quantity)]
    for slips in (single, [*_double(_ratios(quantity))]):
        fits = [slip for slip in slips if _explains(slip, hand, ours, step)]
        if fits:
            slip = min(fits, key=lambda fit: abs(hand / fit.makes_of(ours) - 1.0))
            return Note(slip.code, WARN, _sentence(hand, ours, slip), slip.question)
    return None


def _explains(slip: Slip, hand: float, ours: float, step: float) -> bool:
    """Whether the slip makes the hand value of ours, much nearer than no slip would."""
    twin = slip.makes_of(ours)
    allowed = min(HAND * abs(twin), SHARP * abs(twin - ours))
    return abs(hand - twin) <= allowed + step / 2.0


def _sentence(hand: float, ours: float, slip: Slip) -> str:
    if slip.added:
        words = f"Your value differs from ours by {hand - ours:+.4g} kJ/mol."
    elif slip.factor == -1.0:
        words = "Your value has the opposite sign of ours."
    elif abs(slip.factor) >= 1.0:
        words = f"Your value is {hand / ours:.5g} times ours."
    else:
        words = f"Your value is ours divided by {ours / hand:.5g}."
    return words.replace("-", "−")


def _ratios(quantity: Quantity) -> list[Slip]:
    """Slips that multiply, each with its reverse."""
    calorie, table = sources.CALORIE_J.value, sources.CALORIE_IT_J.value
    pairs = [
        ("calorie", calorie, "Calories in place of joules, or converted once too often (4.184)?"),
        ("calorie_it", table, "International Table calories (4.1868) in place of joules?"),
        ("kilo", 1000.0, "J in place of kJ, or mg in place of g (1000)?"),
    ]
    if quantity.molar_mass is not None:
        mass = quantity.molar_mass
        pairs += [
            (
                "molar_mass",
                mass,
                f"Per mole in place of per gram, or the reverse (M = {mass:.2f})?",
            ),
            ("molar_mass_kilo", mass / 1000.0, "Per gram and J against per mole and kJ (M/1000)?"),
        ]
    found = [Slip("sign", -1.0, "Heat released counts negative in Δ_cU and Δ_cH: sign?")]
    for code, factor, question in pairs:
        found += [Slip(code, factor, question), Slip(code, 1.0 / factor, question)]
    between = "4.1868 J in place of 4.184 J for a calorie, or the reverse?"
    swapped = (table / calorie, calorie / table)
    return [*found, *(Slip("two_calories", factor, between) for factor in swapped)]


def _double(slips: list[Slip]) -> Iterator[Slip]:
    """The sign and one other slip, or a calorie and a thousand."""
    sign, rest = slips[0], slips[1:]
    for slip in rest:
        yield Slip(slip.code, -slip.factor, f"{sign.question} {slip.question}")
    calories = [slip for slip in rest if slip.code.startswith("calorie")]
    for calorie, kilo in product(calories, [slip for slip in rest if slip.code == "kilo"]):
        factor = calorie.factor * kilo.factor
        yield Slip(calorie.code, factor, f"{calorie.question} {kilo.question}")


def _differences(quantity: Quantity) -> list[Slip]:
    """Slips of Δn·R·T: left out, counted twice, with the wrong sign, or with other gases."""
    if quantity.dn_gas is None:
        return []
    rt = sources.GAS_CONSTANT.value * quantity.temperature_k / 1000.0
    work = quantity.dn_gas * rt
    in_celsius = work * (1.0 - 273.15 / quantity.temperature_k)
    found = [
        Slip("dn_rt", 1.0, "Δn·R·T left out: Δ_cU in place of Δ_cH?", -work),
        Slip("dn_rt", 1.0, "Δn·R·T added once too often: Δ_cH in place of Δ_cU?", work),
        Slip("dn_rt_sign", 1.0, "Δn·R·T with the wrong sign?", -2.0 * work),
        Slip("rt_celsius", 1.0, "T in °C in place of kelvins in Δn·R·T?", in_celsius - work),
        Slip("r_joule", 1.0, "R·T in J added to kJ (divide by 1000)?", 999.0 * work),
    ]
    if quantity.equation is not None:
        water, oxygen = quantity.equation.water * rt, quantity.equation.oxygen * rt
        found += [
            Slip("dn_water", 1.0, "Water counted as a gas in Δn? It is liquid here.", water),
            Slip("dn_oxygen", 1.0, "The oxygen used up left out of Δn?", oxygen),
        ]
    return [slip for slip in found if slip.added]
