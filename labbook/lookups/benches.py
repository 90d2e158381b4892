"""Benches: which an account sees, and how their configurations changed."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from django.db.models import QuerySet

from ..access import may
from ..models import Account, Bench, BenchConfiguration
from ..models.labels import label_of


def visible_benches(account: Account) -> QuerySet[Bench]:
    """All for staff; for a group the bench it is booked on."""
    if may(account, "see benches"):
        return Bench.objects.all()
    return Bench.objects.filter(group=account.group_id)


@dataclass(frozen=True)
class Change:
    """A change of configuration, with the parts that differ from the one before."""

    configuration: BenchConfiguration
    differs: dict[str, str]

    @property
    def short(self) -> str:
        """What changed, in as few words as fit beside a mark on a plot."""
        return f"{', '.join(self.differs)} changed" if self.differs else "changed"


def changes_of(bench: Bench) -> list[Change]:
    """Every configuration of a bench after its first, oldest first."""
    rows = list(
        bench.configurations.select_related(*BenchConfiguration.PARTS, "made_by").order_by("since")
    )
    return [Change(new, _differing(old, new)) for old, new in pairwise(rows)]


def _differing(old: BenchConfiguration, new: BenchConfiguration) -> dict[str, str]:
    fields = (*BenchConfiguration.PARTS, "nominal_water_g")
    return {
        label_of(BenchConfiguration, name): f"{getattr(old, name)} → {getattr(new, name)}"
        for name in fields
        if getattr(old, name) != getattr(new, name)
    }
