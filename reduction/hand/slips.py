"""The slips each step may show, the value of each worked out from the student's own figures."""

from collections.abc import Callable

from reduction.hand.chain import Figures
from reduction.hand.curve_slips import crossing_slips, drift_slips, rise_slips
from reduction.hand.energy_slips import (
    acid_slips,
    capacity_slips,
    capacity_used_slips,
    charge_slips,
    du_slips,
    fuse_slips,
)
from reduction.hand.facts import Facts
from reduction.hand.mole_slips import dch_slips, dcu_slips, dn_slips, molar_mass_slips, rt_slips
from reduction.hand.slip import Found, Slip

AT: dict[str, Callable[[str, Figures, Facts], Found]] = {
    "fore_drift": drift_slips,
    "after_drift": drift_slips,
    "crossing": crossing_slips,
    "rise": rise_slips,
    "charge": charge_slips,
    "fuse": fuse_slips,
    "acid": acid_slips,
    "capacity": capacity_slips,
    "capacity_used": capacity_used_slips,
    "du": du_slips,
    "molar_mass": molar_mass_slips,
    "dcu": dcu_slips,
    "dn": dn_slips,
    "rt": rt_slips,
    "dch": dch_slips,
}


def slips_at(key: str, figures: Figures, facts: Facts) -> list[Slip]:
    """The slips known at a step, worked out from the figures before it."""
    return list(AT[key](key, figures, facts))
