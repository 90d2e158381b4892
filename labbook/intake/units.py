"""Which temperature unit the figures are in, and their value in °C."""

from collections.abc import Sequence
from decimal import Decimal

from labbook.intake.answers import Answers
from labbook.intake.labels import Label
from labbook.intake.report import Option, Question, Refusal

UNITS = ("°C", "°F", "K")
ABSOLUTE_ZERO_C = Decimal("-273.15")
# Where a calorimeter's bucket is expected, in °C; outside, the unit is asked about.
USUAL_C = (Decimal(5), Decimal(60))
# Beyond these a figure is no temperature of water in any of the units.
POSSIBLE = (Decimal(-60), Decimal(400))


def to_celsius(value: Decimal, unit: str) -> Decimal:
    """A temperature in °C, exactly except for the ninths of °F.

    >>> to_celsius(Decimal("77"), "°F"), to_celsius(Decimal("298.15"), "K")
    (Decimal('25'), Decimal('25.00'))
    """
    if unit == "K":
        return value + ABSOLUTE_ZERO_C
    return (value - 32) / Decimal("1.8") if unit == "°F" else value


def choose_unit(
    values: Sequence[Decimal], label: Label, where: str, answers: Answers
) -> str | Question:
    """The unit of the temperatures, the question which it is, or a refusal if it can be none."""
    ordered = sorted(values)
    # Tenths from either end: a few stray values do not make the unit doubtful.
    low, high = ordered[len(ordered) // 10], ordered[-1 - len(ordered) // 10]
    chosen = answers.chosen.unit
    if label.quantity == "other" and not chosen:
        raise Refusal(
            f"{_upper(where)} is in “{label.unit or label.name}”, not a temperature. "
            "Record temperatures in °C, or choose another column."
        )
    if low < POSSIBLE[0] or high > POSSIBLE[1]:
        raise Refusal(
            f"{_upper(where)} is not a temperature: values near {_rounded(high)} look like a "
            "resistance or raw counts. Convert them by the thermometer's calibration, "
            "or choose another column."
        )
    if chosen:
        return chosen
    remembered = answers.memory.unit
    if remembered and _usual(low, high, remembered):
        return answers.recall("unit") or remembered
    unit = label.unit if label.unit in UNITS else "°C"
    if _usual(low, high, unit):
        return unit
    return _unit_question(low, high, unit, where)


def _usual(low: Decimal, high: Decimal, unit: str) -> bool:
    return USUAL_C[0] <= to_celsius(low, unit) and to_celsius(high, unit) <= USUAL_C[1]


def _unit_question(low: Decimal, high: Decimal, unit: str, where: str) -> Question:
    options = tuple(
        Option(name, _span(low, high, name))
        for name in UNITS
        if POSSIBLE[0] <= to_celsius(low, name) and to_celsius(high, name) <= POSSIBLE[1]
    )
    likely = next((name for name in UNITS if _usual(low, high, name)), None)
    hint = f"{likely}? Read them as {likely}?" if likely else "in which unit are they?"
    return Question(
        "unit",
        f"Values near {_rounded(low)} in {where}, read as {unit}, are outside 5–60 °C: {hint} "
        "If they are no temperatures, choose another column.",
        options,
    )


def _span(low: Decimal, high: Decimal, unit: str) -> str:
    in_celsius = f"{_rounded(to_celsius(low, unit))} to {_rounded(to_celsius(high, unit))} °C"
    return f"{_rounded(low)} to {_rounded(high)} {unit} is {in_celsius}"


def _upper(words: str) -> str:
    return words[0].upper() + words[1:]


def _rounded(value: Decimal) -> str:
    return f"{value:.1f}" if abs(value) < 1000 else f"{value:,.0f}"
