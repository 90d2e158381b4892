"""The symbols a working needs beside those every page uses."""

import re

from labbook.typesetting.symbols import SYMBOLS, Symbol

BAR = "\u0304"
"""A letter that ends in this is set with a bar over it: a mean."""

_NUMBERED = re.compile(r"(?P<key>[a-z]_aid)_(?P<number>\d+)")


def lowered(formula: str) -> str:
    """A formula with its counts lowered: CO₂."""
    return formula.translate(str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉"))


READ_OFF = {
    f"L_{line}_{place}": Symbol("L", f"{words} line {where}", index=f"{line},{place}")
    for line, words in (("i", "fore"), ("f", "after"))
    for place, where in (
        ("1", "at the reading before"),
        ("2", "at the next reading"),
        ("i", "at firing"),
        ("m", "at the middle of the main period"),
        ("x", "at the crossing"),
    )
}
CURVE = {
    "n_i": Symbol("n", "number of readings in the fore period", index="i"),
    "n_f": Symbol("n", "number of readings in the after period", index="f"),
    "t_i_mean": Symbol("t" + BAR, "mean time of the fore period", index="i"),
    "t_f_mean": Symbol("t" + BAR, "mean time of the after period", index="f"),
    "T_i_mean": Symbol("T" + BAR, "mean temperature of the fore period", index="i"),
    "T_f_mean": Symbol("T" + BAR, "mean temperature of the after period", index="f"),
    "T_m_mean": Symbol("T" + BAR, "mean temperature of the main period", index="m"),
    "T_i": Symbol("T", "temperature on the fore line at firing", index="i"),
    "T_f": Symbol("T", "temperature at the end of the main period", index="f"),
    "t_m": Symbol("t", "middle of the main period", index="m"),
    "g_m": Symbol("g", "mean drift of the main period", index="m"),
    "kappa": Symbol("κ", "change of the drift per kelvin"),
    "theta": Symbol("θ", "what drift alone would have done"),
    "S": Symbol("S", "area between the after line and the curve"),
    "d_mean": Symbol("d" + BAR, "mean distance to the after line"),
    "dt": Symbol("t", "interval between readings", "Δ"),
    "t_1": Symbol("t", "moment of the reading before", index="1"),
    "t_2": Symbol("t", "moment of the next reading", index="2"),
    "T_1": Symbol("T", "temperature of the reading before", index="1"),
    "T_2": Symbol("T", "temperature of the next reading", index="2"),
    "r_1": Symbol("r", "share missing at the reading before", index="1"),
    "r_2": Symbol("r", "share missing at the next reading", index="2"),
    "h_1": Symbol("h", "height of the reading before, as a share", index="1"),
    "h_2": Symbol("h", "height of the next reading, as a share", index="2"),
    "D_i": Symbol("D", "distance of the lines at firing", index="i"),
    "D_m": Symbol("D", "distance of the lines at the middle", index="m"),
}
HEATS = {
    "q_fuse": Symbol("q", "heat of the fuse wire", index="fuse"),
    "q_thread": Symbol("q", "heat of the cotton thread", index="thread"),
    "q_acid": Symbol("q", "heat of the nitric acid formed", index="acid"),
    "q_aids": Symbol("q", "heat of the combustion aids", index="aids"),
    "q_charge": Symbol("q", "heat of the charge", index="charge"),
    "q_total": Symbol("q", "all these heats together", index="all"),
    "e_fuse": Symbol("e", "heat of the wire", index="fuse"),
    "l_fuse": Symbol("ℓ", "length of wire burned", index="fuse"),
    "m_fuse": Symbol("m", "mass of wire burned", index="fuse"),
    "e_thread": Symbol("e", "heat of the thread", index="thread"),
    "m_thread": Symbol("m", "mass of thread", index="thread"),
    "V_acid": Symbol("V", "titre of the washings", index="acid"),
    "c_acid": Symbol("c", "concentration of the titrant", index="acid"),
    "e_acid": Symbol("e", "heat of forming the acid", index="acid"),
    "m_aid": Symbol("m", "mass of the aid", index="aid"),
    "e_aid": Symbol("e", "heat of the aid", index="aid"),
    "e_cert": Symbol("e", "certified heat of the standard", index="cert"),
    "e_std": Symbol("e", "heat of the standard", index="std"),
    "dc_H_std": Symbol("H", "published enthalpy of combustion", "Δ", "c", "std"),
    "dc_U_std": Symbol("U", "molar energy of combustion of the standard", "Δ", "c", "std"),
    "f_bomb": Symbol("f", "factor from the standard state to the bomb", index="bomb"),
    "rho_air": Symbol("ρ", "density of air", index="air"),
    "rho_weights": Symbol("ρ", "density of the weights", index="weights"),
    "rho_charge": Symbol("ρ", "density of the charge", index="charge"),
    "f": Symbol("f", "factor for the conditions"),
    "f_scale": Symbol("k", "scale of the factor", index="cert"),
    "p": Symbol("p", "oxygen pressure"),
    "V": Symbol("V", "volume of the bomb"),
    "m_water": Symbol("m", "water in the bomb", index="water"),
    "C_nom": Symbol("C", "heat capacity at the nominal water", index="nom"),
    "dC_water": Symbol("C", "heat capacity of the extra water", "Δ", index="water"),
    "dC_charge": Symbol("C", "heat capacity of the charge", "Δ", index="charge"),
    "c_charge": Symbol("c", "specific heat of the charge", index="charge"),
    "V_bucket": Symbol("V", "volume of bucket water", index="bucket"),
    "rho_water": Symbol("ρ", "density of the bucket water", index="water"),
    "m_bucket": Symbol("m", "bucket water", index="bucket"),
    "m_nom": Symbol("m", "nominal bucket water", index="nom"),
    "c_water": Symbol("c", "specific heat of water", index="water"),
}
MOLES = {
    **{f"M_{e}": Symbol("M", f"molar mass of the atom {e}", index=e) for e in "CHONS"},
    **{f"N_{e}": Symbol("N", f"number of atoms {e}", index=e) for e in "CHONS"},
    "dc_U_bomb": Symbol("U", "molar energy of combustion in the bomb", "Δ", "c", "bomb"),
    "U_B": Symbol("U", "the same in kilocalories, positive", index="B"),
    "cal": Symbol("k", "joules in a calorie", index="cal"),
    "k_W": Symbol("k", "coefficient of Washburn’s formula", index="W"),
    "epsilon": Symbol("ε", "excess over the standard state"),
    **{
        f"nu_{gas}": Symbol("ν", f"moles of {lowered(gas)}", index=lowered(gas))
        for gas in ("CO2", "N2", "O2", "H2O", "H2SO4")
    },
    **{
        f"df_H_{gas}": Symbol(
            "H", f"enthalpy of formation of {lowered(gas)}", "Δ", "f", lowered(gas)
        )
        for gas in ("CO2", "H2O", "H2SO4")
    },
    "T_ref": Symbol("T", "reference temperature", index="ref"),
    "dc_H_lit": Symbol("H", "published enthalpy of combustion", "Δ", "c", "lit"),
    "delta": Symbol("δ", "difference from the literature"),
}
ALL = SYMBOLS | READ_OFF | CURVE | HEATS | MOLES


def working_symbol(key: str) -> Symbol:
    """The symbol of a quantity of a working; `m_aid_2` is the mass of the second aid."""
    numbered = _NUMBERED.fullmatch(key)
    if numbered is None:
        return ALL[key]
    known = ALL[numbered["key"]]
    index = f"{known.index} {numbered['number']}"
    return Symbol(known.letter, f"{known.words} {numbered['number']}", index=index)
