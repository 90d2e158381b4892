"""The heats beside the charge's own, and the factors on the charge's.

Heat released counts positive, in J.
"""

from reduction import sources
from reduction.inputs import Acid, Aid, Bomb, Fuse, Thread


def fuse_heat(fuse: Fuse) -> float:
    """`value × used` [J]: J/cm times cm, or J/g times g."""
    return fuse.value * fuse.used


def thread_heat(thread: Thread) -> float:
    """`m × q` [J]."""
    return thread.mass_g * thread.j_per_g


def acid_heat(acid: Acid) -> float:
    """`V·c·q` [J] of the nitric acid found by titration: mL × mol/L × kJ/mol."""
    return acid.titre_ml * acid.titrant_mol_per_l * acid.kj_per_mol


def aids_heat(aids: tuple[Aid, ...]) -> float:
    """`Σ m × q` [J] of all combustion aids."""
    return sum(aid.mass_g * aid.j_per_g for aid in aids)


def unburned_carbon_j_per_mg() -> float:
    """Heat [J] that 1 mg of carbon left unburned keeps back: `−Δ_fH(CO2)/M(C)`."""
    return -sources.FORMATION_KJ_PER_MOL["CO2"].value / sources.ATOMIC_WEIGHTS["C"].value


def contents_j_per_k(charge_g: float) -> float:
    """`m·c_p` [J/K] of the charge itself, c_p that of benzoic acid."""
    return charge_g * sources.BENZOIC_ACID_J_PER_G_K.value


def buoyancy_factor(density_g_per_cm3: float) -> float:
    """`b = (1 − ρ_air/ρ_weights)/(1 − ρ_air/ρ_sample)`, mass in vacuum over mass read in air.

    Densities [g/cm³] well above that of air; conventional air 0.0012, weights 8.0.
    """
    air = sources.AIR_G_PER_CM3.value
    return (1.0 - air / sources.WEIGHTS_G_PER_CM3.value) / (1.0 - air / density_g_per_cm3)


def conditions_factor(bomb: Bomb, charge_g: float, final_c: float) -> float | None:
    """Factor on the certificate value for other conditions than the certificate's; None if unknown.

    `f = 1 + 10⁻⁶[20(P − 30) + 42(m_s/V − 3) + 30(m_w/V − 3) − 45(t − 25)]`, P in atm, V in L,
    masses in g, t in °C; for about 20–40 atm, 2–4 g/L, 20–30 °C. From memory.
    """
    if bomb.volume_ml is None or bomb.water_ml is None or bomb.oxygen_atm is None:
        return None
    volume_l = bomb.volume_ml / 1000.0
    terms = (
        20.0 * (bomb.oxygen_atm - 30.0)
        + 42.0 * (charge_g / volume_l - 3.0)
        + 30.0 * (bomb.water_ml / volume_l - 3.0)
        - 45.0 * (final_c - 25.0)
    )
    return 1.0 + sources.CONDITIONS_FACTOR.value * terms


def water_excess_j_per_k(bucket_water_g: float, nominal_water_g: float) -> float:
    """`(m_w − m_nominal)·c_p` [J/K], what this run's bucket holds above the nominal water."""
    return (bucket_water_g - nominal_water_g) * sources.WATER_J_PER_G_K.value


def heat_capacity(total_j: float, rise_k: float) -> float:
    """`C = Σq/ΔT` [J/K] of a standardization."""
    return total_j / rise_k


def combustion_energy(
    heat_capacity_j_per_k: float, rise_k: float, ancillary_j: float, charge_g: float
) -> float:
    """`Δu = −(C·ΔT − Σq)/m` [J/g] of an unknown; negative when heat is released."""
    return -(heat_capacity_j_per_k * rise_k - ancillary_j) / charge_g
