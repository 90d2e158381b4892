"""The heats beside the charge's own, each counted positive when released."""

from reduction.inputs import Acid, Aid, Fuse, Thread
from reduction.working.expressions import Product, Symbol, total
from reduction.working.ledger import Ledger

PART = "heats"


def write_ancillary(ledger: Ledger) -> list[Symbol]:
    """The heats that are known and applied, in the order of the run sheet."""
    inputs, heats = ledger.inputs, []
    if inputs.fuse is not None and is_applied(ledger, "fuse"):
        heats.append(_write_fuse(ledger, inputs.fuse))
    if inputs.thread is not None and is_applied(ledger, "thread"):
        heats.append(_write_thread(ledger, inputs.thread))
    if inputs.acid is not None and is_applied(ledger, "acid"):
        heats.append(_write_acid(ledger, inputs.acid))
    if inputs.aids and is_applied(ledger, "aids"):
        heats.append(_write_aids(ledger, inputs.aids))
    return heats


def is_applied(ledger: Ledger, name: str) -> bool:
    """Whether the result was kept with a correction applied."""
    return any(row["applied"] and row["name"] == name for row in ledger.outputs["corrections"])


def _heat(ledger: Ledger, name: str) -> Symbol:
    return Symbol(f"q_{name}", "J", ledger.outputs["heat"][f"{name}_j"], 3)


def _write_fuse(ledger: Ledger, fuse: Fuse) -> Symbol:
    per_length = fuse.basis == "J/cm"
    value = ledger.enter("e_fuse", fuse.value, fuse.basis, ledger.origin_of("fuse wire", "the lot"))
    key, unit = ("l_fuse", "cm") if per_length else ("m_fuse", "g")
    used = ledger.enter(key, fuse.used, unit, "run sheet, before less what was left")
    return ledger.write(PART, "Fuse wire", _heat(ledger, "fuse"), Product((value, used)))


def _write_thread(ledger: Ledger, thread: Thread) -> Symbol:
    mass = ledger.enter("m_thread", thread.mass_g, "g", "run sheet")
    origin = ledger.origin_of("cotton thread", "entered with the run")
    value = ledger.enter("e_thread", thread.j_per_g, "J/g", origin)
    return ledger.write(PART, "Cotton thread", _heat(ledger, "thread"), Product((mass, value)))


def _write_acid(ledger: Ledger, acid: Acid) -> Symbol:
    titre = ledger.enter("V_acid", acid.titre_ml, "mL", "run sheet")
    titrant = ledger.enter("c_acid", acid.titrant_mol_per_l, "mol/L", "titrant lot")
    origin = ledger.origin_of("nitric acid formed", "entered with the run")
    value = ledger.enter("e_acid", acid.kj_per_mol, "kJ/mol", origin)
    return ledger.write(
        PART,
        "Nitric acid formed",
        _heat(ledger, "acid"),
        Product((titre, titrant, value)),
        "Millilitres times moles per litre are millimoles; times kilojoules per mole, joules.",
    )


def _write_aids(ledger: Ledger, aids: tuple[Aid, ...]) -> Symbol:
    terms = [_aid_term(ledger, number, aid) for number, aid in enumerate(aids, start=1)]
    return ledger.write(PART, "Combustion aids", _heat(ledger, "aids"), total(*terms))


def _aid_term(ledger: Ledger, number: int, aid: Aid) -> Product:
    mass = ledger.enter(f"m_aid_{number}", aid.mass_g, "g", f"{aid.name}, run sheet")
    value = ledger.enter(f"e_aid_{number}", aid.j_per_g, "J/g", f"{aid.name}, its lot")
    return Product((mass, value))
