"""What a firing will release, and how far it will warm the bucket: from certificates and the past.

An unknown's energy follows from its identity, so none is predicted for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from statistics import median

from ..models import AidLot, Bench, Run, Standardization
from .inputs import heat_of_standard_j_per_g
from .sheets import Sheet
from .standardizations import approval_in_force

RECENT = 8


def predicted_energy_kj(run: Run, sheet: Sheet) -> Decimal | None:
    """The charge with thread and aids; None for an unknown, or while the charge is not known."""
    charge = sheet.charge_g
    if run.standard_lot is None or charge is None or charge <= 0:
        return None
    released = charge * Decimal(heat_of_standard_j_per_g(run.standard_lot))
    released += (sheet.number("thread_mass_g") or 0) * run.method.thread_j_per_g
    for lot, key in ((run.aid_lot, "aid_mass_g"), (run.second_aid_lot, "second_aid_mass_g")):
        released += _aid_j(lot, sheet.number(key))
    return released / 1000


def _aid_j(lot: AidLot | None, mass: Decimal | None) -> Decimal:
    return Decimal(0) if lot is None or mass is None else mass * lot.j_per_g


@dataclass(frozen=True)
class UsualCapacity:
    """The heat capacity a bench will have, near enough for a prediction, and where it is from."""

    j_per_k: float
    source: str


def usual_capacity(bench: Bench) -> UsualCapacity | None:
    """The value in force, else the median of the last approved ones; None on a new bench."""
    in_force = approval_in_force(bench)
    if in_force is not None and in_force.approved_c_j_per_k is not None:
        source = f"the heat capacity in force, of standardization {in_force.pk}"
        return UsualCapacity(in_force.approved_c_j_per_k, source)
    approved = bench.standardizations.filter(
        state__in=[Standardization.State.APPROVED, Standardization.State.LAPSED]
    ).order_by("-approved_at")
    values = approved.values_list("approved_c_j_per_k", flat=True)[:RECENT]
    recent = [value for value in values if value is not None]
    if not recent:
        return None
    source = f"the median of the last approved values of this bench ({len(recent)})"
    return UsualCapacity(median(recent), source)


@dataclass(frozen=True)
class Prediction:
    """What the sheet as it stands will give, beside the vessel's limit."""

    energy_kj: Decimal
    limit_kj: Decimal
    capacity: UsualCapacity | None

    @property
    def rise_k(self) -> float | None:
        return self._rise(self.energy_kj)

    @property
    def limit_rise_k(self) -> float | None:
        return self._rise(self.limit_kj)

    def _rise(self, energy_kj: Decimal) -> float | None:
        return None if self.capacity is None else float(energy_kj) * 1000 / self.capacity.j_per_k


def prediction_of(run: Run, sheet: Sheet) -> Prediction | None:
    energy = predicted_energy_kj(run, sheet)
    if energy is None:
        return None
    return Prediction(energy, run.configuration.max_energy_kj, usual_capacity(run.bench))
