"""A term's sections and benches beside each other: how its groups did, none of them named."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from statistics import fmean
from typing import Any

from django.db.models import F, Q, QuerySet

from ..access import Reach, reach_of, require
from ..models import Account, Group, HandFigure, Run, Standardization, Term
from .hand_figures import understood
from .history import all_histories
from .practice import practice_groups
from .withholding import Cells, cells_of

ByGroup = dict[int, float]
FINISHED = (Run.State.COMPLETE, Run.State.SIGNED)


@dataclass(frozen=True)
class Measure:
    """What is compared, in its unit. ``explains`` says how a group comes to its value."""

    key: str
    words: str
    unit: str
    decimals: int
    explains: str
    of_groups: Callable[[QuerySet[Group]], ByGroup]


@dataclass(frozen=True)
class Compared:
    """One measure over the groups of a term, by section and by bench."""

    measure: Measure
    sections: Cells
    benches: Cells


def visible_terms(account: Account, deed: str) -> QuerySet[Term]:
    """The terms an account may do a deed in: for a TA those with a section of its own."""
    if reach_of(account, deed) is Reach.ALL:
        return Term.objects.all()
    return Term.objects.filter(sections__assistants=account).distinct()


def compare_term(term: Term, account: Account, *, with_earlier: bool = False) -> list[Compared]:
    """Every measure over the groups within reach; practice terms are in none.

    ``with_earlier`` takes in the terms before: sections are then told together by their name.
    """
    require(account, "compare term")
    groups = _groups(term, account, with_earlier)
    places = list(groups.values_list("pk", "section__name", "bench__code"))
    by_section = [(pk, section) for pk, section, _ in places]
    by_bench = [(pk, f"bench {bench}" if bench else "no bench") for pk, _, bench in places]
    return [
        Compared(measure, _cells(values, by_section), _cells(values, by_bench))
        for measure in MEASURES
        for values in [measure.of_groups(groups)]
    ]


def _groups(term: Term, account: Account, with_earlier: bool) -> QuerySet[Group]:
    terms = Q(section__term__starts__lte=term.starts) if with_earlier else Q(section__term=term)
    found = Group.objects.filter(terms).exclude(pk__in=practice_groups())
    if reach_of(account, "compare term") is Reach.ALL:
        return found
    return found.filter(section__assistants=account)


def _cells(values: ByGroup, places: list[tuple[int, str]]) -> Cells:
    """By place the values of its groups, in the order of the places' names."""
    by_place: dict[str, list[float]] = {name: [] for name in sorted({name for _, name in places})}
    for pk, name in places:
        if pk in values:
            by_place[name].append(values[pk])
    return cells_of(by_place, [value for own in by_place.values() for value in own])


def _means(rows: Iterable[tuple[int, float | None]]) -> ByGroup:
    """By group the mean of its values."""
    found: dict[int, list[float]] = defaultdict(list)
    for group, value in rows:
        if value is not None:
            found[group].append(float(value))
    return {group: fmean(values) for group, values in found.items()}


def _runs(groups: QuerySet[Group]) -> QuerySet[Run]:
    return Run.objects.filter(group__in=groups.values("pk"), state__in=FINISHED)


def _against_history(groups: QuerySet[Group]) -> ByGroup:
    rows = Standardization.objects.filter(group__in=groups.values("pk"), approved_at__isnull=False)
    of_group = dict(rows.values_list("pk", "group_id"))
    return _means(
        (of_group[one.point.pk], 100 * (one.point.approval.c_j_per_k / one.centre - 1))
        for history in all_histories()
        for one in history.judged
        if one.point.pk in of_group and one.centre
    )


def _spread(groups: QuerySet[Group]) -> ByGroup:
    rows = Standardization.objects.filter(
        group__in=groups.values("pk"), approved_c_j_per_k__isnull=False
    )
    spread = 100 * F("approved_s_j_per_k") / F("approved_c_j_per_k")
    return _means(rows.annotate(spread=spread).values_list("group_id", "spread"))


def _against_literature(groups: QuerySet[Group]) -> ByGroup:
    """Of revealed samples alone: nothing here may tell what a hidden one is."""
    literature = "sample__substance__literature_dch_kj_per_mol"
    rows = _runs(groups).filter(
        sample__revealed_at__isnull=False, **{f"{literature}__isnull": False}
    )
    found = rows.values_list("group_id", "result__dch_kj_per_mol", literature)
    return _means(
        (group, None if ours is None else 100 * (ours / float(known) - 1))
        for group, ours, known in found
    )


def _by_hand(groups: QuerySet[Group]) -> ByGroup:
    figures = HandFigure.objects.filter(
        run__in=_runs(groups).filter(hand_figures_saved__isnull=False).values("pk"),
        key="rise",
        replaced_by__isnull=True,
        run__result__rise_k__gt=0,
    ).exclude(text="")
    rows = figures.values_list("run__group_id", "text", "unit", "run__result__rise_k")
    return _means(
        (group, 100 * abs(understood("rise", text, unit).value / float(ours or 1) - 1))
        for group, text, unit, ours in rows.distinct()
    )


def _at_the_bench(groups: QuerySet[Group]) -> ByGroup:
    found = _runs(groups).values_list("group_id", "opened_at", "completed_at")
    return _means(
        (group, None if done is None else (done - opened).total_seconds() / 60)
        for group, opened, done in found
    )


def _notes(groups: QuerySet[Group]) -> ByGroup:
    rows = _runs(groups).filter(result__isnull=False)
    found: Iterable[tuple[int, Any]] = rows.values_list("group_id", "result__outputs__notes")
    return _means((group, len(notes or [])) for group, notes in found)


MEASURES = (
    Measure(
        "history", "Heat capacity against the bench’s history", "%", 2,
        "The mean of a group’s approved standardizations, less what the bench gave before.",
        _against_history,
    ),
    Measure(
        "spread", "Spread of a standardization", "%", 2,
        "The standard deviation of its runs, of its mean.", _spread,
    ),
    Measure(
        "literature", "Enthalpy of combustion against the literature", "%", 2,
        "The mean over runs of revealed samples; hidden ones are in no figure.",
        _against_literature,
    ),
    Measure(
        "by_hand", "Corrected rise by hand against ours", "%", 2,
        "How far off, whichever way, on average over runs whose hand figures stand.", _by_hand,
    ),
    Measure(
        "time", "Time at the bench", "min", 1,
        "From opening a run to completing it, on average.", _at_the_bench,
    ),
    Measure(
        "notes", "Notes raised by a run", "notes", 1,
        "What the reduction had to say, on average.", _notes,
    ),
)  # fmt: skip
