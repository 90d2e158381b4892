"""Heat capacity from a standard, or energy of combustion per gram from a heat capacity."""

from reduction import sources
from reduction.recipes import missing_fields, recipe_for
from reduction.water import water_density
from reduction.working.charge import write_charge, write_mass
from reduction.working.expressions import (
    Difference,
    Expression,
    Negative,
    Product,
    Quotient,
    Sum,
    Symbol,
    less,
    product,
    total,
)
from reduction.working.heats import is_applied, write_ancillary
from reduction.working.ledger import Ledger

CAPACITY, COMBUSTION, HEATS = "capacity", "combustion", "heats"


def write_energy(ledger: Ledger, rise: Symbol | None) -> None:
    """All heats, and what the run is for where it can be found."""
    inputs, recipe = ledger.inputs, recipe_for(ledger.inputs)
    ancillary = write_ancillary(ledger)
    if recipe.heat_capacity and inputs.standard is not None and inputs.charge_g is not None:
        ancillary.insert(0, write_charge(ledger, inputs.standard))
    heat = _write_total(ledger, ancillary)
    if rise is None or missing_fields(inputs) or ledger.outputs["heat_capacity"] is None:
        return
    if recipe.heat_capacity and heat is not None:
        _write_capacity(ledger, heat, rise)
    elif recipe.combustion:
        _write_per_gram(ledger, heat, rise)


def _write_total(ledger: Ledger, heats: list[Symbol]) -> Symbol | None:
    """The sum of the heats, written only where there is more than one."""
    if len(heats) < 2:
        return heats[0] if heats else None
    found = Symbol("q_total", "J", ledger.outputs["heat"]["total_j"], 3)
    return ledger.write(HEATS, "All heats together", found, total(*heats))


def _write_capacity(ledger: Ledger, heat: Symbol, rise: Symbol) -> None:
    """`C = Σq/ΔT`, less what was in the bucket and the bomb beyond the bench's own."""
    kept, u = ledger.outputs["heat_capacity"], uncertainty(ledger, "heat_capacity")
    found = Symbol("C", "J/K", kept["j_per_k"], 2)
    title, ratio = "Heat capacity of the calorimeter in this run", Quotient(heat, rise)
    if not _extras_applied(ledger):
        ledger.write(CAPACITY, title, found, ratio, u=u, stated=1)
        return
    own: Expression = ledger.write(CAPACITY, title, found, ratio)
    for extra in _write_extras(ledger):
        own = Difference(own, extra)
    nominal = Symbol("C_nom", "J/K", kept["at_nominal_water_j_per_k"], 2)
    ledger.write(CAPACITY, _nominal_title(ledger), nominal, own, u=u, stated=1)


def _nominal_title(ledger: Ledger) -> str:
    if is_applied(ledger, "bucket_water"):
        return "Heat capacity at the nominal bucket water"
    return "Heat capacity of the empty bench"


def _extras_applied(ledger: Ledger) -> bool:
    return any(is_applied(ledger, name) for name in ("bucket_water", "contents"))


def _write_extras(ledger: Ledger) -> list[Symbol]:
    """What this run held beyond the bench at its nominal water, where that is counted."""
    extras = []
    if is_applied(ledger, "bucket_water"):
        extras.append(_write_extra_water(ledger))
    if is_applied(ledger, "contents"):
        extras.append(_write_contents(ledger))
    return extras


def _write_extra_water(ledger: Ledger) -> Symbol:
    nominal_g = ledger.inputs.nominal_water_g or 0.0
    nominal = ledger.enter("m_nom", nominal_g, "g", "the bench’s configuration")
    per_gram = ledger.constant("c_water", sources.WATER_J_PER_G_K)
    return ledger.write(
        CAPACITY,
        "What the bucket holds beyond its nominal water",
        Symbol("dC_water", "J/K", None, 2),
        Product((less(_bucket_water(ledger), nominal), per_gram)),
    )


def _bucket_water(ledger: Ledger) -> Symbol:
    """The mass of the bucket water as weighed, or from its volume."""
    weighed, water = ledger.inputs.bucket_water_g or 0.0, ledger.inputs.bucket_water
    if water is None:
        return ledger.enter("m_bucket", weighed, "g", "run sheet")
    volume = ledger.enter("V_bucket", water.volume_ml, "mL", "run sheet")
    origin = f"at {water.temperature_c:g} °C, Kell 1975, from memory"
    density = ledger.enter("rho_water", water_density(water.temperature_c), "g/mL", origin, 6)
    found = Symbol("m_bucket", "g", weighed, 2)
    return ledger.write(CAPACITY, "Mass of the bucket water", found, Product((volume, density)))


def _write_contents(ledger: Ledger) -> Symbol:
    mass = ledger.enter("m", ledger.inputs.charge_g or 0.0, "g", "run sheet, gross less tare")
    per_gram = ledger.constant("c_charge", sources.BENZOIC_ACID_J_PER_G_K)
    found = Symbol("dC_charge", "J/K", None, 2)
    return ledger.write(CAPACITY, "Heat capacity of the charge", found, Product((mass, per_gram)))


def _write_per_gram(ledger: Ledger, ancillary: Symbol | None, rise: Symbol) -> None:
    """`Δu = −(C·ΔT − Σq)/m`."""
    heat: Expression = Product((_run_capacity(ledger), rise))
    if ancillary is not None:
        heat = Difference(heat, ancillary)
    mass = product(*write_mass(ledger, _density(ledger)))
    found = Symbol("dc_u", "J/g", ledger.outputs["combustion"]["du_j_per_g"], 2)
    ledger.write(
        COMBUSTION,
        "Energy of combustion per gram",
        found,
        Negative(Quotient(heat, mass)),
        "Heat given off by the charge counts negative.",
        u=uncertainty(ledger, "du"),
        stated=1,
    )


def _density(ledger: Ledger) -> float | None:
    substance = ledger.inputs.substance
    return None if substance is None else substance.density_g_per_cm3


def _run_capacity(ledger: Ledger) -> Symbol:
    """The bench's heat capacity, brought to this run's bucket water where that is applied."""
    given, kept = ledger.inputs.heat_capacity, ledger.outputs["heat_capacity"]
    origin = (given and given.origin) or "entered with the run"
    nominal = kept["at_nominal_water_j_per_k"]
    if not _extras_applied(ledger):
        return ledger.enter("C", nominal, "J/K", origin, 2)
    bench = ledger.enter("C_nom", nominal, "J/K", origin, 2)
    found = Symbol("C", "J/K", kept["j_per_k"], 2)
    title = "Heat capacity with what this run held"
    return ledger.write(CAPACITY, title, found, Sum((bench, *_write_extras(ledger))))


def uncertainty(ledger: Ledger, name: str) -> float | None:
    """The standard uncertainty kept with a result, where there is one."""
    budget = ledger.outputs.get("budget") or {}
    row = budget.get(name) or {}
    return row.get("u")
