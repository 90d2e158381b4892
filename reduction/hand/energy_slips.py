"""Slips in what is weighed and titrated, and in the energy balance."""

from reduction.hand.chain import Figures, result_of
from reduction.hand.facts import Facts
from reduction.hand.slip import Found, Slip, calories, thousands, with_change
from reduction.hand.steps import CALORIE

WIRE_LEFT_OUT = "The heat of the fuse wire left out?"
ACID_LEFT_OUT = "The heat of the nitric acid left out?"
BY_BEFORE = "All of the wire in place of what burned: before less left?"
BY_LEFT = "The wire that was left in place of what burned?"
GROSS = "The crucible with the pellet in place of the pellet alone?"
OTHER_MASS = "The mass of another run?"
OTHER_RISE = "The rise of another run?"
OTHER_C = "The heat capacity of another run or bench?"
SIGN = "The sign turned round?"


def charge_slips(key: str, f: Figures, facts: Facts) -> Found:
    beside = facts.beside
    if beside.gross_g is not None:
        yield Slip(beside.gross_g, "gross_mass", GROSS)
    if beside.tare_g is not None:
        yield Slip(beside.tare_g, "tare_mass", "The empty crucible in place of the pellet?")
    yield from (Slip(mass, "other_mass", OTHER_MASS) for mass in beside.charges_g)
    yield from thousands(facts.ours[key], "mg in place of g (1000)?")


def fuse_slips(key: str, f: Figures, facts: Facts) -> Found:
    for value, question in wires(facts):
        yield Slip(value, "wire", question)
    yield Slip(0.0, "no_wire", WIRE_LEFT_OUT)
    yield from calories(facts.ours[key])
    yield Slip(-facts.ours[key], "sign", SIGN)


def wires(facts: Facts) -> list[tuple[float, str]]:
    """The heat [J] of the wire there was before, and of the wire that was left."""
    fuse, beside = facts.inputs.fuse, facts.beside
    if fuse is None:
        return []
    lengths = ((beside.fuse_before, BY_BEFORE), (beside.fuse_left, BY_LEFT))
    return [(fuse.value * length, words) for length, words in lengths if length is not None]


def acid_slips(key: str, f: Figures, facts: Facts) -> Found:
    right, acid = facts.ours[key], facts.inputs.acid
    yield Slip(0.0, "no_acid", ACID_LEFT_OUT)
    if acid is not None:
        question = "The titre not multiplied by the concentration of the titrant?"
        yield Slip(right / acid.titrant_mol_per_l, "acid_amount", question)
    yield from calories(right)
    yield from thousands(right, "J in place of kJ (1000)?")
    yield Slip(-right, "sign", SIGN)


def _balance(key: str, f: Figures, facts: Facts) -> Found:
    """What may go wrong in the energy balance, with the student's own figures put in."""
    beside = facts.beside
    charges = [("gross_mass", GROSS, beside.gross_g)]
    charges += [("other_mass", OTHER_MASS, mass) for mass in beside.charges_g]
    for code, question, mass in charges:
        if mass is not None:
            yield from with_change(key, f, facts, code, question, {"charge": mass})
    for rise in beside.rises_k:
        yield from with_change(key, f, facts, "other_rise", OTHER_RISE, {"rise": rise})
    if facts.curve is not None:
        plain = {"rise": facts.curve.end_to_end_k}
        words = "The plain difference in place of the corrected rise?"
        yield from with_change(key, f, facts, "plain_difference", words, plain)
    yield from _heats(key, f, facts)
    yield from _left_out(key, f, facts)


def _heats(key: str, f: Figures, facts: Facts) -> Found:
    none = {"fuse": 0.0, "acid": 0.0}
    turned = {name: -f.get(name, 0.0) for name in none}
    small = {name: f.get(name, 0.0) / CALORIE for name in none}
    changes = [
        ("no_wire", WIRE_LEFT_OUT, {"fuse": 0.0}),
        ("no_acid", ACID_LEFT_OUT, {"acid": 0.0}),
        ("no_heats", "The heats of wire and acid left out?", none),
        ("heats_sign", "The heats of wire and acid taken with the wrong sign?", turned),
        ("heats_calorie", "The heats of wire and acid put in in calories?", small),
    ]
    changes += [("wire", question, {"fuse": heat}) for heat, question in wires(facts)]
    for code, question, change in changes:
        yield from with_change(key, f, facts, code, question, change)


def _left_out(key: str, f: Figures, facts: Facts) -> Found:
    """Corrections of the course that the student did not make."""
    right = result_of(key, f, facts)
    if right is None:
        return
    shift = facts.extra_j_per_k
    water = right + shift if key == "capacity" else right + shift * f["rise"] / f["charge"]
    yield Slip(water, "bucket_water", "C not brought to the bucket water of this run?")
    factor = facts.mass_factor if key == "du" else 1.0 / facts.mass_factor
    yield Slip(right * factor, "buoyancy", "The weighing in air not corrected for?")


def capacity_slips(key: str, f: Figures, facts: Facts) -> Found:
    yield from _balance(key, f, facts)
    yield from (Slip(c, "other_capacity", OTHER_C) for c in facts.beside.capacities_j_per_k)


def capacity_used_slips(key: str, f: Figures, facts: Facts) -> Found:
    yield from (Slip(c, "other_capacity", OTHER_C) for c in facts.beside.capacities_j_per_k)


def du_slips(key: str, f: Figures, facts: Facts) -> Found:
    yield from _balance(key, f, facts)
    for c in facts.beside.capacities_j_per_k:
        yield from with_change(key, f, facts, "other_capacity", OTHER_C, {"capacity_used": c})
    words = "Not divided by the mass of the charge?"
    yield from with_change(
        key, f, facts, "not_per_gram", words, {"charge": 1.0 / facts.mass_factor}
    )
