"""What a firing will release, and how far it will warm the bucket: from certificates and the past.

An unknown's energy follows from its identity, so none is predicted for it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from statistics import median

from ..models import AidLot, Bench, Run, Standardization
from .inputs import heat_of_standard_j_per_g
from .sheets import Sheet
from .standardizations import approvals_in_force

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
    return UsualCapacities([bench]).of(bench)


class UsualCapacities:
    """The usual capacities of some benches, asked for once, when the first is wanted.

    Values of practice terms are invented and say nothing of a bench.
    """

    def __init__(self, benches: Iterable[Bench]) -> None:
        self.benches = {bench.pk for bench in benches}

    def of(self, bench: Bench) -> UsualCapacity | None:
        return self._in_force.get(bench.pk) or self._of_late.get(bench.pk)

    @cached_property
    def _in_force(self) -> dict[int, UsualCapacity]:
        found = approvals_in_force().filter(bench__in=self.benches)
        return {
            one.bench_id: UsualCapacity(
                one.approved_c_j_per_k, f"the heat capacity in force, of standardization {one.pk}"
            )
            for one in found
            if one.approved_c_j_per_k is not None
        }

    @cached_property
    def _of_late(self) -> dict[int, UsualCapacity]:
        approved = Standardization.objects.filter(
            bench__in=self.benches - self._in_force.keys(),
            state__in=[Standardization.State.APPROVED, Standardization.State.LAPSED],
            group__section__term__is_practice=False,
        ).order_by("-approved_at")
        values: dict[int, list[float]] = defaultdict(list)
        for bench, value in approved.values_list("bench_id", "approved_c_j_per_k"):
            if value is not None and len(values[bench]) < RECENT:
                values[bench].append(value)
        return {bench: _median(recent) for bench, recent in values.items() if recent}


def _median(recent: list[float]) -> UsualCapacity:
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
