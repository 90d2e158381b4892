"""Slips on the way from a gram to a mole: M, Δn, R·T."""

from reduction import sources
from reduction.hand.chain import Figures, result_of
from reduction.hand.facts import Facts
from reduction.hand.slip import Found, Slip, calories, thousands, with_change

CELSIUS = "T in °C in place of kelvins?"


def molar_mass_slips(key: str, f: Figures, facts: Facts) -> Found:
    if facts.equation is None:
        return
    for element in facts.equation.atoms:
        for atoms in (-1, 1, -2, 2):
            value = facts.ours[key] + atoms * sources.ATOMIC_WEIGHTS[element].value
            yield Slip(value, "atoms", f"The atoms of {element} miscounted in the formula?")


def dcu_slips(key: str, f: Figures, facts: Facts) -> Found:
    words = "Δn·R·T counted here already: Δ_cH in place of Δ_cU?"
    right = result_of(key, f, facts)
    if right is not None and "dn" in facts.ours:
        yield Slip(right + facts.ours["dn"] * facts.ours["rt"], "dn_rt", words)


def dn_slips(key: str, f: Figures, facts: Facts) -> Found:
    right, equation = facts.ours[key], facts.equation
    yield Slip(-right, "dn_sign", "Gases formed less gases used up: sign?")
    if equation is None:
        return
    liquid = "Water counted as a gas in Δn? It is liquid here."
    yield Slip(right + equation.water, "dn_water", liquid)
    yield Slip(right + equation.oxygen, "dn_oxygen", "The oxygen used up left out of Δn?")
    yield Slip(right - 1.0, "dn_solid", "The solid counted as a gas in Δn?")


def rt_slips(key: str, f: Figures, facts: Facts) -> Found:
    right = facts.ours[key]
    kelvin = sources.REFERENCE_TEMPERATURE_K.value
    yield Slip(right * (kelvin - 273.15) / kelvin, "rt_celsius", CELSIUS)
    yield from thousands(right, "J in place of kJ (1000)?")
    yield from calories(right)
    yield Slip(0.082057 * kelvin, "rt_litre_atm", "R in L atm/(mol K)? Take 8.314 J/(mol K).")


def dch_slips(key: str, f: Figures, facts: Facts) -> Found:
    if not {"dn", "rt", "dcu"} <= set(f):
        return
    rt, kelvin = f["rt"], sources.REFERENCE_TEMPERATURE_K.value
    changes = [
        ("dn_rt", "Δn·R·T left out: Δ_cU in place of Δ_cH?", {"dn": 0.0}),
        ("dn_rt", "Δn·R·T counted twice?", {"dn": 2.0 * f["dn"]}),
        ("dn_rt_sign", "Δn·R·T with the wrong sign?", {"dn": -f["dn"]}),
        ("rt_celsius", CELSIUS, {"rt": rt * (kelvin - 273.15) / kelvin}),
        ("r_joule", "R·T in J added to kJ (divide by 1000)?", {"rt": rt * 1000.0}),
    ]
    if facts.equation is not None:
        water, oxygen = facts.equation.water, facts.equation.oxygen
        liquid = "Water counted as a gas in Δn? It is liquid here."
        used_up = "The oxygen used up left out of Δn?"
        changes += [("dn_water", liquid, {"dn": f["dn"] + water})]
        changes += [("dn_oxygen", used_up, {"dn": f["dn"] + oxygen})]
    for code, question, change in changes:
        yield from with_change(key, f, facts, code, question, change)
