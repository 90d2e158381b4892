"""Symbols of quantities: slanted letter, upright index, and the words for them."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Symbol:
    letter: str
    words: str
    before: str = ""  # upright, ahead of the letter: the Δ of a change
    before_index: str = ""
    index: str = ""


SYMBOLS = {
    "dc_u": Symbol("u", "energy of combustion per gram", "Δ", "c"),
    "dc_U": Symbol("U", "molar energy of combustion", "Δ", "c"),
    "dc_H": Symbol("H", "molar enthalpy of combustion", "Δ", "c"),
    "df_H": Symbol("H", "molar enthalpy of formation", "Δ", "f"),
    "dn_g": Symbol("n", "change in moles of gas", "Δ", index="g"),
    "dT": Symbol("T", "corrected temperature rise", "Δ"),
    "C": Symbol("C", "heat capacity of the calorimeter"),
    "m": Symbol("m", "mass"),
    "M": Symbol("M", "molar mass"),
    "n": Symbol("n", "number of values"),
    "s": Symbol("s", "standard deviation"),
    "u": Symbol("u", "standard uncertainty"),
    "t": Symbol("t", "time"),
    "T": Symbol("T", "temperature"),
    "t_i": Symbol("t", "moment of firing", index="i"),
    "t_f": Symbol("t", "moment the drift is linear again", index="f"),
    "t_x": Symbol("t", "moment of the crossing", index="x"),
    "g_i": Symbol("g", "drift of the fore period", index="i"),
    "g_f": Symbol("g", "drift of the after period", index="f"),
    "q": Symbol("q", "heat released"),
    "R": Symbol("R", "molar gas constant"),
    "k": Symbol("k", "leak constant"),
    "b": Symbol("b", "buoyancy factor"),
    "phi": Symbol("φ", "fraction of the rise"),
    "tau": Symbol("τ", "time constant"),
}


def symbol(name: str) -> Symbol:
    if name not in SYMBOLS:
        raise KeyError(f"No symbol {name!r}; there are: {', '.join(SYMBOLS)}.")
    return SYMBOLS[name]
