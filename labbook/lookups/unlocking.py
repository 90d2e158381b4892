"""Whether an account may see the record's own values of a run: one answer for every page.

A course may want the extrapolation worked by hand first. Then our values of a run (drifts,
crossing, rise, C, Δ_cu and all that rests on them) reach its group only after its own figures
stand, after it has handed in, or never. Staff always see them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.db.models import Exists, OuterRef, Q

from ..models import Account, HandFiguresSaved, HandIn, Role, Run, Unlock

SETTING = "group__section__term__ours_unlock"
WITHHELD = {
    Unlock.HAND_FIGURES: "Enter your hand figures first; ours show beside them.",
    Unlock.HAND_IN: "Ours show beside your hand figures once your group has handed in.",
    Unlock.NEVER: "In this course ours are for the staff; your own figures count.",
}


def unlocked(account: Account, runs: Iterable[Run]) -> set[int]:
    """The numbers of those runs whose values this account may see."""
    asked = {run.pk for run in runs}
    if account.role != Role.GROUP:
        return asked
    saved = Exists(HandFiguresSaved.objects.filter(run=OuterRef("pk")))
    handed_in = Exists(
        HandIn.objects.filter(group=OuterRef("group"), at__gte=OuterRef("completed_at"))
    )
    opens = (
        Q(**{SETTING: Unlock.AT_ONCE})
        | (Q(**{SETTING: Unlock.HAND_FIGURES}) & saved)
        | (Q(**{SETTING: Unlock.HAND_IN}) & handed_in)
    )
    return set(Run.objects.filter(opens, pk__in=asked).values_list("pk", flat=True))


def is_unlocked(account: Account, run: Run) -> bool:
    return run.pk in unlocked(account, [run])


def withheld_words(run: Run) -> str:
    """When our values will show to the group, and what it can do for it."""
    return WITHHELD[Unlock(run.group.section.term.ours_unlock)]


def show_results(account: Account, runs: Iterable[Run]) -> list[Run]:
    """The runs, each with as much of its result as this account may see."""
    runs = list(runs)
    seen = unlocked(account, runs)
    for run in runs:
        run.shown = run.result if run.pk in seen else None
    return runs


# Notes that hold nothing a group is to find by hand: what was typed, read or left out.
PLAIN_NOTES = frozenset(
    {
        "clock_back", "logger_restarted", "same_time_twice", "wrong_unit", "not_a_temperature",
        "typing_slip", "decimal_slip", "missing_field", "wire_missing", "titre_missing",
        "more_wire_left", "formula", "certificate_basis", "fore_period_short", "firing_time_off",
        "two_firings", "two_clocks", "gap", "stuck_sensor", "no_rise",
    }
)  # fmt: skip
# The others that matter at the bench, said without their values.
WITHOUT_VALUES = {
    "fuse_only": "The wire burned; the pellet did not catch.",
    "no_ignition": "The charge did not light.",
    "firing_found": "No firing was marked; it is looked for on the curve.",
    "fore_period_unsteady": "The slope of the fore period changes.",
    "no_after_period": "There is no after period yet.",
    "after_period_short": "The after period is short.",
    "after_period_curved": "The after period is still curving.",
    "slow_approach": "The water warmed slowly.",
    "stirrer_off": "The readings scatter or move in steps.",
    "coarse_resolution": "The readings step coarsely.",
    "unburned": "Soot was seen, or residue was left.",
    "other_bucket_water": "The water is not what this bench uses.",
}


def without_values(notes: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The notes for whom values are withheld; one that is nothing but values is left out."""
    kept = []
    for note in notes:
        if note["code"] in PLAIN_NOTES:
            kept.append(dict(note))
        elif note["code"] in WITHOUT_VALUES:
            kept.append(dict(note) | {"sentence": WITHOUT_VALUES[note["code"]]})
    return kept
