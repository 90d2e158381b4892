"""Signs of wear: what each run's curve says of stirrer and thermometer, before C moves."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet

from ..access import require
from ..models import Account, Bench, Run

MK_PER_MIN = 60_000
"""Millikelvins per minute in one kelvin per second."""


@dataclass(frozen=True, slots=True)
class RunSigns:
    """Both drifts [K/s], time to 95 % of the rise [s], noise of a reading [K]; None if unknown."""

    pk: int
    kind: str
    state: str
    group: str
    at: datetime
    fore_drift: float | None
    after_drift: float | None
    time_to_95: float | None
    noise: float | None

    @property
    def fore_drift_mk_per_min(self) -> float | None:
        return None if self.fore_drift is None else self.fore_drift * MK_PER_MIN

    @property
    def after_drift_mk_per_min(self) -> float | None:
        return None if self.after_drift is None else self.after_drift * MK_PER_MIN

    @property
    def noise_mk(self) -> float | None:
        return None if self.noise is None else self.noise * 1000

    @property
    def is_set_aside(self) -> bool:
        return self.state == Run.State.SET_ASIDE


COLUMNS = (
    "pk", "kind", "state", "group__code", "fired_at", "result__fore_drift_k_per_s",
    "result__after_drift_k_per_s", "result__time_to_95_s", "result__noise_k",
)  # fmt: skip


def signs_of_wear(
    account: Account, bench: Bench, since: datetime, until: datetime
) -> list[RunSigns]:
    """Every finished run of the bench that gave a result, oldest first, practice terms left out."""
    require(account, "see benches")
    rows = _runs(bench, since, until).order_by("fired_at", "pk").values_list(*COLUMNS)
    return [RunSigns(*row) for row in rows]


def first_firing(bench: Bench, since: datetime, until: datetime) -> datetime | None:
    """When the first of these runs was fired."""
    runs = _runs(bench, since, until).order_by("fired_at")
    return runs.values_list("fired_at", flat=True).first()


def _runs(bench: Bench, since: datetime, until: datetime) -> QuerySet[Run]:
    return Run.objects.filter(
        bench=bench,
        fired_at__range=(since, until),
        result__isnull=False,
        group__section__term__is_practice=False,
    ).exclude(state__in=[Run.State.OPEN, Run.State.FIRED])
