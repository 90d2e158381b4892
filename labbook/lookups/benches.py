"""Benches: which an account sees, and how their configurations changed."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from django.db.models import QuerySet
from django.utils.text import capfirst

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


def configurations_of(bench: Bench) -> list[BenchConfiguration]:
    """Every configuration of a bench with its parts, oldest first; the last is the present one."""
    parts = BenchConfiguration.PARTS
    return list(bench.configurations.select_related(*parts, "made_by").order_by("since"))


def changes_of(bench: Bench) -> list[Change]:
    """Every configuration of a bench after its first, oldest first."""
    return changes_between(configurations_of(bench))


def changes_between(configurations: list[BenchConfiguration]) -> list[Change]:
    return [Change(new, _differing(old, new)) for old, new in pairwise(configurations)]


def _differing(old: BenchConfiguration, new: BenchConfiguration) -> dict[str, str]:
    fields = (*BenchConfiguration.PARTS, "nominal_water_g")
    return {
        label_of(BenchConfiguration, name): f"{getattr(old, name)} → {getattr(new, name)}"
        for name in fields
        if getattr(old, name) != getattr(new, name)
    }


def what_changed(newest: BenchConfiguration) -> str:
    """What a configuration changed against the one before it: “The head was changed”."""
    before = newest.bench.configurations.filter(since__lt=newest.since).first()
    differs = [] if before is None else list(_differing(before, newest))
    if not differs:
        return f"{capfirst(str(newest.bench))} was changed"
    return f"The {' and the '.join(differs)} {'were' if len(differs) > 1 else 'was'} changed"
