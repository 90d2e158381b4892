"""Runs of the section that were weighed alike: a mass copied by mistake shows here."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property

from ..intake.figures import read_figure
from ..models import Run, SheetEntry
from .sheets import Sheet

MASSES = ("charge_gross_g", "charge_tare_g")


@dataclass
class Weighed:
    """The two weighings of a run, in g."""

    group_id: int
    words: str
    masses: dict[str, Decimal] = field(default_factory=dict)

    @property
    def charge(self) -> Decimal | None:
        gross, tare = (self.masses.get(key) for key in MASSES)
        return None if gross is None or tare is None else gross - tare


class SectionsMasses:
    """Every charge weighed in a section. Asked once for all the runs that are looked at."""

    def __init__(self, section_id: int) -> None:
        self.section_id = section_id

    @cached_property
    def runs(self) -> dict[int, Weighed]:
        found: dict[int, Weighed] = {}
        entries = (
            SheetEntry.objects.filter(
                run__group__section=self.section_id, field__in=MASSES, replaced_by__isnull=True
            )
            .exclude(text="")
            .exclude(run__cause=Run.Cause.MISFIRE)
        )
        rows = entries.values_list(
            "run_id", "run__group_id", "run__kind", "run__replicate", "field", "text"
        )
        for pk, group_id, kind, replicate, key, text in rows:
            weighed = found.setdefault(pk, Weighed(group_id, f"{kind} run {replicate}"))
            weighed.masses[key] = read_figure(text).value
        return found

    def like(self, run: Run, sheet: Sheet, within: Decimal) -> str:
        """The run weighed like this one, in words, or nothing.

        Within a group the charges are compared. Other groups are many, so that charges agree by
        chance: there both weighings must agree, and the group is not named.
        """
        charge, own = sheet.charge_g, {key: sheet.number(key) for key in MASSES}
        if charge is None:
            return ""
        others = [weighed for pk, weighed in self.runs.items() if pk != run.pk]
        for weighed in others:
            if weighed.group_id == run.group_id and _near(weighed.charge, charge, within):
                return f"your {weighed.words}"
        for weighed in others:
            if weighed.group_id != run.group_id and all(
                _near(weighed.masses.get(key), own[key], within) for key in MASSES
            ):
                return "a run of another group of your section"
        return ""


def _near(theirs: Decimal | None, own: Decimal | None, within: Decimal) -> bool:
    return theirs is not None and own is not None and abs(theirs - own) <= within
