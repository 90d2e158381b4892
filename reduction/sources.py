"""Every constant the reduction uses: value, unit and where it comes from. Their one home."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Constant:
    """A number with its unit and its source."""

    name: str
    value: float
    unit: str
    source: str


MEMORY = "from memory; a laboratory's own value comes first"

GAS_CONSTANT = Constant(
    "gas constant R", 8.31446261815324, "J/(mol K)", "CODATA 2018, exact by definition of the SI"
)
REFERENCE_TEMPERATURE_K = Constant(
    "reference temperature", 298.15, "K", "25 °C, the convention of thermochemical tables"
)
CALORIE_J = Constant("thermochemical calorie", 4.184, "J", "exact by definition")
CALORIE_IT_J = Constant(
    "International Table calorie", 4.1868, "J", "exact by definition; 0.07 % above 4.184 J"
)
WATER_J_PER_G_K = Constant(
    "water, specific heat at 25 °C",
    4.18131,
    "J/(g K)",
    "IAPWS-95 at 101.325 kPa; within 0.2 % from 15 to 35 °C",
)
AIR_G_PER_CM3 = Constant(
    "density of air", 0.0012, "g/cm³", "conventional value of weighing (OIML D 28)"
)
WEIGHTS_G_PER_CM3 = Constant(
    "density of weights", 8.0, "g/cm³", "conventional value of weighing (OIML D 28)"
)
BENZOIC_ACID_J_PER_G = Constant(
    "benzoic acid, certified, mass in vacuum",
    26434.0,
    "J/g",
    "NIST certificate of SRM 39j; Churney and Armstrong, J. Res. NBS 72A (1968) 453",
)
BENZOIC_ACID_G_PER_CM3 = Constant(
    "benzoic acid, density", 1.320, "g/cm³", "NIST certificate of SRM 39j"
)
BENZOIC_ACID_J_PER_G_K = Constant(
    "organic solid, specific heat (benzoic acid)", 1.202, "J/(g K)", "tables of the CRC Handbook"
)
COTTON_J_PER_G = Constant("cotton thread", 17500.0, "J/g", MEMORY)
NITRIC_ACID_KJ_PER_MOL = Constant("nitric acid formed", 59.7, "kJ/mol", MEMORY)
CONDITIONS_FACTOR = Constant(
    "factor for certificate conditions, terms in P, m_s/V, m_w/V and t",
    1e-6,
    "per unit",
    "wording of standard certificates, " + MEMORY,
)
STANDARD_STATE = Constant(
    "reduction to the standard state, approximate formula",
    0.30,
    "% kcal/(mol atm)",
    "Washburn, Bur. Stand. J. Res. 10 (1933) 525, " + MEMORY + "; an estimate",
)
FORMATION_KJ_PER_MOL: dict[str, Constant] = {
    "CO2": Constant("formation of CO2(g)", -393.51, "kJ/mol", "CODATA key values, " + MEMORY),
    "H2O": Constant("formation of H2O(l)", -285.830, "kJ/mol", "CODATA key values, " + MEMORY),
    "H2SO4": Constant(
        "formation of H2SO4 in 115 H2O", -887.81, "kJ/mol", "NBS tables of 1982, " + MEMORY
    ),
}
FORMATION_U_KJ_PER_MOL = {"CO2": 0.13, "H2O": 0.040}
"""Their uncertainties in kJ/mol (CODATA key values, from memory), taken for standard ones."""
ATOMIC_WEIGHTS: dict[str, Constant] = {
    symbol: Constant(f"atomic weight of {symbol}", value, "g/mol", "IUPAC, abridged 2021")
    for symbol, value in {"C": 12.011, "H": 1.0080, "N": 14.007, "O": 15.999, "S": 32.06}.items()
}
