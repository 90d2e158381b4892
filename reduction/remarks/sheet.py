"""What the fields of the run sheet give reason to say."""

from reduction import heat
from reduction.energy import Energy, formula_trouble, is_on
from reduction.inputs import RunInputs
from reduction.notes import BLOCK, NOTE, WARN, Note, Thresholds
from reduction.recipes import recipe_for


def missing(name: str, words: str) -> Note:
    """A field the result needs."""
    return Note(
        "missing_field", BLOCK, f"{name} is missing: {words}.", f"Enter {words} to get the result."
    )


def no_rise(method: str) -> Note:
    """The method the course chose cannot give a rise."""
    return Note(
        "no_rise",
        BLOCK,
        f"The chosen method, {method}, gives no rise from these readings.",
        "Move the bounds of the periods, or choose another method.",
    )


def no_wire(inputs: RunInputs) -> Note | None:
    """No fuse wire where the course counts it."""
    if inputs.fuse is not None or not is_on(inputs, "fuse"):
        return None
    return Note(
        "wire_missing",
        WARN,
        "No fuse wire is entered; it is left out of the heat.",
        "Leave it out (about 0.3 % for 10 cm) and say so, or enter what burned.",
    )


def more_wire_left(inputs: RunInputs) -> Note | None:
    """More wire after the firing than before it."""
    fuse = inputs.fuse
    if fuse is None or fuse.used >= 0:
        return None
    unit = fuse.basis.removeprefix("J/")
    return Note(
        "more_wire_left",
        BLOCK,
        f"Wire left exceeds the wire put in by {-fuse.used:.4g} {unit}.",
        "Check both figures; until then the wire is left out and there is no result.",
    )


def no_titre(inputs: RunInputs) -> Note | None:
    """No titre where the course counts the acid."""
    if inputs.acid is not None or not is_on(inputs, "acid"):
        return None
    return Note(
        "titre_missing",
        WARN,
        "No titre is entered; the acid is left out of the heat.",
        "Leave it out (about 0.2 %) and say so, or enter the titre.",
    )


def unburned(
    inputs: RunInputs, energy: Energy, rise_k: float | None, limits: Thresholds
) -> Note | None:
    """Soot above a trace, or residue: carbon that did not burn, with the heat it kept back."""
    seen, residue = inputs.after.soot == "much", inputs.after.residue_mg
    heavy = residue is not None and residue > limits.residue_mg
    if not seen and not heavy:
        return None
    if residue is not None and heavy:
        sentence = f"{'Soot was seen; ' if seen else ''}{residue:g} mg of residue was left."
    else:
        sentence = "Soot was seen."
    left_mg = residue if residue is not None and heavy else 1.0
    if energy.heat_capacity is not None and rise_k is not None:
        kept_back = left_mg * heat.unburned_carbon_j_per_mg()
        share = 100.0 * kept_back / (energy.heat_capacity["j_per_k"] * rise_k)
        sentence += f" {left_mg:g} mg of carbon left lowers the heat by {share:.2g} %."
    return Note("unburned", WARN, sentence, "Set aside, or ask your TA.")


def other_water(inputs: RunInputs, energy: Energy, limits: Thresholds) -> Note | None:
    """Bucket water far from the bench's nominal."""
    used, nominal = inputs.bucket_water_g, inputs.nominal_water_g
    if used is None or nominal is None or abs(used - nominal) <= limits.water_g:
        return None
    extra = heat.water_excess_j_per_k(used, nominal)
    share = ""
    if energy.heat_capacity is not None:
        share = f" ({100 * abs(extra) / energy.heat_capacity['j_per_k']:.1f} %)"
    done = "is" if is_on(inputs, "bucket_water") else "is not"
    return Note(
        "other_bucket_water",
        WARN,
        f"Water {used:g} g, this bench uses {nominal:g} g. C {done} corrected by "
        f"{extra / 1000:.3f} kJ/K{share}.".replace("-", "−"),
        "Check the weighing of the bucket.",
    )


def certificate_basis(inputs: RunInputs) -> Note | None:
    """A certificate on mass in vacuum: what was done about it, a warning where nothing was."""
    standard = inputs.standard if recipe_for(inputs).heat_capacity else None
    if standard is None or standard.basis != "vacuum":
        return None
    applied = standard.density_g_per_cm3 is not None and is_on(inputs, "buoyancy")
    if standard.density_g_per_cm3 is None:
        done = "No density is given, so no factor is applied"
    else:
        factor = heat.buoyancy_factor(standard.density_g_per_cm3)
        done = f"Factor {factor:.5f} is {'' if applied else 'not '}applied"
    return Note(
        "certificate_basis",
        NOTE if applied else WARN,
        f"The certificate is for mass in vacuum; the balance reads in air. {done}.",
        "Confirm the basis on the certificate.",
    )


def formula(inputs: RunInputs) -> Note | None:
    """A formula that gives no values per mole."""
    trouble = None if inputs.substance is None else formula_trouble(inputs.substance)
    if trouble is None:
        return None
    return Note("formula", BLOCK, trouble, "Correct the formula to get values per mole.")
