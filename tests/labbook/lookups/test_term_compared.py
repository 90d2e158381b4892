"""A term compared: each group's value, within reach, of the runs and terms that count."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from labbook.lookups.term_compared import Compared, compare_term, visible_terms
from labbook.models import Group, Run, Sample, Section, Standardization, Term

from ..conftest import Laboratory
from ..histories import SOUND, approved_values, with_runs

MINUTES = 45


def groups_with_values(lab: Laboratory, section: Section, count: int) -> list[Group]:
    """Groups of a section, each with an approved value 0.1 % above the last one's."""
    made = []
    for number in range(count):
        code = f"{section.name[0]}{number + 10}"
        group = Group.objects.create(section=section, code=code, bench=lab.bench)
        (value,) = approved_values(lab, [10_100.0 * (1 + 0.001 * number)])
        Standardization.objects.filter(pk=value.pk).update(group=group)
        value.group = group
        runs = with_runs(value, [10_100.0, 10_110.0])
        opened = timezone.now() - timedelta(minutes=MINUTES)
        Run.objects.filter(pk__in=[run.pk for run in runs]).update(
            opened_at=opened, completed_at=timezone.now()
        )
        made.append(group)
    return made


def measured(found: list[Compared], key: str) -> Compared:
    return next(one for one in found if one.measure.key == key)


@pytest.fixture
def two_sections(laboratory: Laboratory) -> tuple[Section, Section]:
    approved_values(laboratory, SOUND, newest=timezone.now() - timedelta(days=30))
    monday, friday = laboratory.term.sections.order_by("-name")
    groups_with_values(laboratory, monday, 6)
    groups_with_values(laboratory, friday, 5)
    return monday, friday


def test_a_sections_median_is_over_its_groups(
    laboratory: Laboratory, two_sections: tuple[Section, Section]
) -> None:
    found = compare_term(laboratory.term, laboratory.coordinator)
    time = measured(found, "time").sections
    assert [(cell.name, cell.n) for cell in time.parts] == [("Friday", 5), ("Monday", 6)]
    assert time.parts[0].median == pytest.approx(MINUTES, abs=0.1)
    spread = measured(found, "spread").sections.parts[1]
    # Six groups s = 20 J/K each, of 10 100 J/K and 0.1 % more from one to the next.
    expected = [100 * 20 / (10_100 * (1 + 0.001 * number)) for number in range(6)]
    assert spread.median == pytest.approx((expected[2] + expected[3]) / 2, rel=1e-3)


def test_the_benchs_history_is_what_it_gave_before(
    laboratory: Laboratory, two_sections: tuple[Section, Section]
) -> None:
    cell = measured(compare_term(laboratory.term, laboratory.coordinator), "history").benches.total
    assert cell.n is not None and cell.n >= 11
    assert cell.median == pytest.approx(0.2, abs=0.15)


def test_a_ta_compares_the_own_sections_alone(
    laboratory: Laboratory, two_sections: tuple[Section, Section]
) -> None:
    found = measured(compare_term(laboratory.term, laboratory.other_assistant), "time")
    assert [cell.name for cell in found.sections.parts] == ["Friday"]
    assert found.sections.total.n == 5


def test_practice_terms_and_students_are_left_out(
    laboratory: Laboratory, two_sections: tuple[Section, Section]
) -> None:
    Term.objects.filter(pk=laboratory.term.pk).update(is_practice=True)
    found = compare_term(laboratory.term, laboratory.coordinator)
    assert all(not one.sections.parts for one in found)
    with pytest.raises(PermissionDenied):
        compare_term(laboratory.term, laboratory.group)


def test_terms_before_may_be_taken_in(
    laboratory: Laboratory, two_sections: tuple[Section, Section]
) -> None:
    newer = Term.objects.create(
        name="next", starts=laboratory.term.ends, ends=laboratory.term.ends + timedelta(days=90),
        method=laboratory.method,
    )  # fmt: skip
    alone = compare_term(newer, laboratory.coordinator)
    assert measured(alone, "time").sections.parts == []
    both = compare_term(newer, laboratory.coordinator, with_earlier=True)
    assert measured(both, "time").sections.total.n == 11


def test_a_hidden_sample_is_in_no_figure(laboratory: Laboratory) -> None:
    """Otherwise its literature value could be had from the run's and the per cent."""
    (value,) = approved_values(laboratory, [10_100.0])
    (run,) = with_runs(value, [10_100.0], dch_kj_per_mol=-5160.0)
    Run.objects.filter(pk=run.pk).update(sample=laboratory.sample)

    def told() -> str:
        found = compare_term(laboratory.term, laboratory.coordinator)
        return measured(found, "literature").sections.total.withheld

    assert told() == "no values"
    Sample.objects.filter(pk=laboratory.sample.pk).update(revealed_at=timezone.now())
    assert told() == "withheld, for fewer than 5 groups"


def test_a_ta_sees_the_terms_of_the_own_sections(laboratory: Laboratory) -> None:
    Term.objects.create(
        name="another", starts=laboratory.term.starts, ends=laboratory.term.ends,
        method=laboratory.method,
    )  # fmt: skip
    seen = {who: visible_terms(who, "compare term").count() for who in
            (laboratory.coordinator, laboratory.assistant)}  # fmt: skip
    assert seen == {laboratory.coordinator: 2, laboratory.assistant: 1}
