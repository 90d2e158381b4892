"""The heat of a burned standard, with the factors on its mass and on its certificate."""

from reduction import sources
from reduction.inputs import Standard
from reduction.working.curve import latest
from reduction.working.expressions import (
    Bracket,
    Difference,
    Number,
    Product,
    Quotient,
    Sum,
    Symbol,
    less,
    product,
)
from reduction.working.from_literature import write_from_literature
from reduction.working.heats import PART, is_applied
from reduction.working.ledger import Ledger
from reduction.working.lines import enter_settled, found, write_on_line


def write_charge(ledger: Ledger, standard: Standard) -> Symbol:
    """`q = m·b·e·f`, with the factors that are applied."""
    mass = write_mass(ledger, standard.density_g_per_cm3)
    literature = standard.literature
    if literature is not None:
        factors = [*mass, *write_from_literature(ledger, standard, literature)]
    else:
        factors = [*mass, *_certified(ledger, standard)]
    found = Symbol("q_charge", "J", ledger.outputs["heat"]["charge_j"], 3)
    return ledger.write(PART, f"Charge of {standard.name}", found, product(*factors))


def _certified(ledger: Ledger, standard: Standard) -> list[Symbol]:
    """The value of the certificate, and the factor for other conditions where it is applied."""
    origin = ledger.origin_of(f"{standard.name}, certificate", "certificate of the lot")
    basis = "in vacuum" if standard.basis == "vacuum" else "weighed in air"
    words = f"{standard.name}, {origin}, per gram {basis}"
    value = ledger.enter("e_cert", standard.j_per_g, "J/g", words)
    return [value, _write_conditions(ledger)] if is_applied(ledger, "conditions") else [value]


def write_mass(ledger: Ledger, density_g_per_cm3: float | None) -> list[Symbol]:
    """The mass of the charge, with its buoyancy factor where that is applied."""
    mass = ledger.enter("m", ledger.inputs.charge_g or 0.0, "g", "run sheet, gross less tare")
    if density_g_per_cm3 is None or not is_applied(ledger, "buoyancy"):
        return [mass]
    air = ledger.constant("rho_air", sources.AIR_G_PER_CM3)
    weights = ledger.constant("rho_weights", sources.WEIGHTS_G_PER_CM3)
    own = ledger.enter("rho_charge", density_g_per_cm3, "g/cm3", "entered with the charge")
    factor = ledger.write(
        PART,
        "Weighing in air",
        Symbol("b", "", _factor(ledger, "buoyancy"), 7),
        Quotient(
            Difference(Number("1"), Quotient(air, weights)),
            Difference(Number("1"), Quotient(air, own)),
        ),
        "Mass in vacuum over the mass read in air: the air carries the charge more than the "
        "weights.",
    )
    return [mass, factor]


def _write_conditions(ledger: Ledger) -> Symbol:
    bomb = ledger.inputs.bomb
    scale = sources.CONDITIONS_FACTOR
    oxygen = ledger.enter("p", bomb.oxygen_atm or 0.0, "atm", "run sheet")
    water = ledger.enter("m_water", bomb.water_ml or 0.0, "g", "run sheet, 1 g for 1 mL")
    volume = ledger.enter("V", (bomb.volume_ml or 0.0) / 1000.0, "L", "the bench’s bomb")
    charge = ledger.enter("m", ledger.inputs.charge_g or 0.0, "g", "run sheet, gross less tare")
    terms = (
        Product((Number("20"), less(oxygen, Number("30", "atm")))),
        Product((Number("42"), Bracket(Difference(Quotient(charge, volume), _per_litre())))),
        Product((Number("30"), Bracket(Difference(Quotient(water, volume), _per_litre())))),
    )
    warmth = Product((Number("45"), less(_end_temperature(ledger), Number("25", "°C"))))
    inside = Bracket(Difference(Sum(terms), warmth))
    return ledger.write(
        PART,
        "Conditions other than the certificate’s",
        Symbol("f", "", _factor(ledger, "conditions"), 7),
        Sum((Number("1"), Product((ledger.constant("f_scale", scale), inside)))),
        f"Each term per its own unit. Source: {scale.source}.",
    )


def _per_litre() -> Number:
    return Number("3", "g/L")


def _end_temperature(ledger: Ledger) -> Symbol:
    """The temperature the main period ends at: on the after line, else the last reading."""
    keys = {step.key for step in ledger.steps}
    if "T_f" in keys:
        return found(ledger, "T_f")
    if "g_f" in keys:
        title = "After line at the end of main"
        return write_on_line(ledger, PART, title, "T_f", "f", enter_settled(ledger))
    last = latest(ledger.inputs.readings)
    return ledger.enter("T_f", last[1], "°C", "the last reading")


def _factor(ledger: Ledger, name: str) -> float:
    rows = ledger.outputs["corrections"]
    return float(next(row["factor"] for row in rows if row["name"] == name))
