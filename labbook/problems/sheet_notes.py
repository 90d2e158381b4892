"""Notes on what stands on a sheet: what was seen, what was expected, what to do.

A note asks and never blocks. Its sentence holds the figures, so that an answer given to it holds
for these figures and the note is asked again for others. Codes that ``reduction`` has too are its.
"""

from __future__ import annotations

from decimal import Decimal

from reduction import heat
from reduction.errors import InputError
from reduction.notes import Thresholds
from reduction.water import water_density

from ..lookups.predictions import UsualCapacities, predicted_energy_kj
from ..lookups.same_masses import SectionsMasses
from ..lookups.sheets import Sheet
from ..models import Happening, NoteAnswer, Run
from .refusals import Problem

Answer = NoteAnswer.Answer
RIGHT_OR_WRONG = (Answer.AS_IT_IS, Answer.WILL_CORRECT, Answer.ASKED)
SETTLED = (Answer.AS_IT_IS, Answer.ASKED)
MAY_BE_LEFT_OUT = (Answer.LEAVE_OUT, Answer.WILL_CORRECT, Answer.ASKED)
BURNED = (Run.State.FIRED, Run.State.COMPLETE, Run.State.SIGNED)


def notes_on_sheet(
    run: Run,
    sheet: Sheet,
    masses: SectionsMasses | None = None,
    capacities: UsualCapacities | None = None,
) -> list[Problem]:
    """Every note the sheet gives reason for, in the order of its fields.

    ``masses`` and ``capacities`` spare asking for them again when many runs are looked at.
    """
    limits = Thresholds.from_dict(run.method.thresholds)
    masses = masses or SectionsMasses(run.group.section_id)
    capacities = capacities or UsualCapacities([run.bench])
    return [
        *_booking(run),
        *_certificate(run),
        *_light_charge(sheet, limits),
        *_net(sheet, limits),
        *_same_mass(run, sheet, limits, masses),
        *_other_water(run, sheet, limits, capacities),
        *_soot(run, sheet),
        *_residue(sheet, limits),
        *_wire(run, sheet),
        *_titre(run, sheet),
    ]


def _ask(code: str, sentence: str, field: str, answers: tuple[Answer, ...]) -> list[Problem]:
    return [Problem(code, "W", sentence, field=field, answers=answers)]


def _booking(run: Run) -> list[Problem]:
    booked = run.group.bench
    if run.is_finished or booked is None or booked.pk == run.bench_id:
        return []
    sentence = (
        f"This run is on {run.bench}; group {run.group} is booked on {booked} now. "
        "Is this the right bench?"
    )
    return _ask("other_bench", sentence, "", SETTLED)


def _certificate(run: Run) -> list[Problem]:
    lot = run.standard_lot
    if lot is None or lot.basis != lot.Basis.VACUUM:
        return []
    factor = heat.buoyancy_factor(float(lot.density_g_per_cm3))
    done = f"Factor {factor:.5f} {'is' if run.method.correct_buoyancy else 'is not'} applied"
    sentence = (
        f"The certificate of lot {lot.code} is for mass in vacuum; the balance reads in air. "
        f"{done}: confirm it with the certificate."
    )
    return _ask("certificate_basis", sentence, "standard_lot", SETTLED)


def _light_charge(sheet: Sheet, limits: Thresholds) -> list[Problem]:
    charge = sheet.charge_g
    if charge is None or not 0 < charge < limits.light_charge_g:
        return []
    sentence = (
        f"The charge is {charge} g; at least {limits.light_charge_g:g} g was expected. "
        "Check both masses."
    )
    return _ask("light_charge", sentence, "charge_gross_g", RIGHT_OR_WRONG)


def _net(sheet: Sheet, limits: Thresholds) -> list[Problem]:
    net, charge = sheet.number("charge_net_g"), sheet.charge_g
    if net is None or charge is None or abs(net - charge) <= limits.net_mass_g:
        return []
    sentence = f"Crucible with pellet minus crucible alone is {charge} g; you noted {net} g."
    if sorted(f"{net:f}") == sorted(f"{charge:f}"):
        sentence += " Two digits swapped?"
    return _ask("net_mass", sentence, "charge_net_g", RIGHT_OR_WRONG)


def _same_mass(run: Run, sheet: Sheet, limits: Thresholds, masses: SectionsMasses) -> list[Problem]:
    like = masses.like(run, sheet, Decimal(str(limits.same_mass_g)))
    if not like:
        return []
    sentence = f"The same mass as {like}, to {2000 * limits.same_mass_g:g} mg. Copied by mistake?"
    return _ask("same_mass", sentence, "charge_gross_g", RIGHT_OR_WRONG)


def bucket_water(sheet: Sheet) -> tuple[Decimal | None, str]:
    """The water in the bucket in g, weighed or by volume, and the field that says so."""
    weighed = sheet.bucket_water_g
    if weighed is not None:
        return weighed, "bucket_gross_g"
    volume, celsius = sheet.number("bucket_volume_ml"), sheet.number("bucket_temperature_c")
    if volume is None or celsius is None:
        return None, ""
    try:
        density = Decimal(str(water_density(float(celsius))))
    except InputError:
        return None, ""
    return (volume * density).quantize(Decimal("0.1")), "bucket_volume_ml"


def _other_water(
    run: Run, sheet: Sheet, limits: Thresholds, capacities: UsualCapacities
) -> list[Problem]:
    water, field = bucket_water(sheet)
    nominal = run.configuration.nominal_water_g
    if water is None or abs(water - nominal) <= limits.water_g:
        return []
    excess = heat.water_excess_j_per_k(float(water), float(nominal))
    corrected = "will be" if run.method.correct_bucket_water else "is not"
    capacity = capacities.of(run.bench)
    share = f" ({100 * abs(excess) / capacity.j_per_k:.1f} %)" if capacity else ""
    sentence = (
        f"Water {water:f} g, this bench uses {nominal.normalize():f} g. C {corrected} corrected by "
        f"{excess / 1000:+.3f} kJ/K{share}. Is the weighing right?".replace("-", "−")
    )
    return _ask("other_bucket_water", sentence, field, RIGHT_OR_WRONG)


def _soot(run: Run, sheet: Sheet) -> list[Problem]:
    seen = sheet.text("soot")
    if seen == "much":
        sentence = f"Soot was seen. {_carbon_left(run, sheet)} Have it set aside, or ask your TA."
        return _ask("unburned", sentence, "soot", SETTLED)
    noted = any(one.kind == Happening.Kind.SOOT for one in run.happenings.all())
    if seen == "none" and noted:
        sentence = "Soot or residue was noted under what happened; here it says none. Which is it?"
        return _ask("soot_noted", sentence, "soot", RIGHT_OR_WRONG)
    return []


def _residue(sheet: Sheet, limits: Thresholds) -> list[Problem]:
    residue = sheet.number("residue_mg")
    if residue is None or residue <= limits.residue_mg:
        return []
    sentence = (
        f"{residue:f} mg was left unburned; at most {limits.residue_mg:g} mg was expected. "
        "Have it set aside, or ask your TA."
    )
    return _ask("residue", sentence, "residue_mg", RIGHT_OR_WRONG)


def _carbon_left(run: Run, sheet: Sheet) -> str:
    """What 1 mg of carbon keeps back; as a share only where the charge's own heat may be known."""
    kept_back, released = heat.unburned_carbon_j_per_mg(), predicted_energy_kj(run, sheet)
    if not released:
        return f"1 mg of carbon left keeps {kept_back:.0f} J back."
    return f"1 mg of carbon left lowers the heat by {kept_back / float(released) / 10:.2f} %."


def _wire(run: Run, sheet: Sheet) -> list[Problem]:
    if run.state not in BURNED or sheet.text("fuse_left") or not run.method.correct_fuse:
        return []
    sentence = "No wire left is noted. Leave the wire out (about 0.3 % for 10 cm) and say so?"
    return _ask("wire_missing", sentence, "fuse_left", MAY_BE_LEFT_OUT)


def _titre(run: Run, sheet: Sheet) -> list[Problem]:
    if run.state not in BURNED or run.kind == Run.Kind.BLANK or not run.method.correct_acid:
        return []
    if not sheet.text("titre_ml"):
        sentence = "No titre. Leave the acid out (about 0.2 %) and say so?"
        return _ask("titre_missing", sentence, "titre_ml", MAY_BE_LEFT_OUT)
    if run.titrant_lot is None:
        sentence = "A titre without the lot of its titrant: the acid cannot be counted. Which lot?"
        return _ask("titrant_missing", sentence, "titrant_lot", MAY_BE_LEFT_OUT)
    return []
