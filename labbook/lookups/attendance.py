"""Who came to a section's afternoon, with which group, and who may be present in a run."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from ..models import Attendance, Group, Membership, Person, Run, Section

AWAY = (Attendance.Came.ABSENT, Attendance.Came.EXCUSED)
MOST_FOUND = 12


@dataclass(frozen=True)
class Seat:
    """A person on a group's list that day; ``own`` is the group they are a member of."""

    person: Person
    group: Group
    own: Group
    mark: Attendance | None
    in_run: Run | None = None

    @property
    def came(self) -> str:
        return self.mark.came if self.mark else ""

    @property
    def is_visitor(self) -> bool:
        return self.own.pk != self.group.pk

    @property
    def is_away_but_in_a_run(self) -> bool:
        return self.came in AWAY and self.in_run is not None


def standing_marks(section: Section, on: date) -> dict[int, Attendance]:
    """By person the mark that stands: the newest of the day."""
    rows = section.attendances.filter(on=on).select_related("person", "group", "by")
    return {row.person_id: row for row in rows.order_by("pk")}


def seats_of(section: Section, on: date) -> list[tuple[Group, list[Seat]]]:
    """Every group of the section with who works there that day, visitors after the members."""
    groups = {group.pk: group for group in section.groups.select_related("bench")}
    marks, in_runs = standing_marks(section, on), _in_runs(section, on)
    own = _own_groups(section, marks)
    lists: dict[int, list[Seat]] = defaultdict(list)
    for person, group in own.values():
        mark = marks.get(person.pk)
        place = groups[mark.group_id] if mark else group
        lists[place.pk].append(Seat(person, place, group, mark, in_runs.get(person.pk)))
    return [
        (group, sorted(lists[group.pk], key=lambda seat: (seat.is_visitor, seat.person.name)))
        for group in groups.values()
    ]


def _own_groups(section: Section, marks: dict[int, Attendance]) -> dict[int, tuple[Person, Group]]:
    """The section's members, and whoever was marked here as a visitor from another section."""
    found = Membership.objects.filter(
        Q(group__section=section) | Q(person__in=list(marks), group__section__term=section.term_id),
        until__isnull=True,
    ).select_related("person", "group__section")
    marked = {mark.person_id: (mark.person, mark.group) for mark in marks.values()}
    return marked | {one.person_id: (one.person, one.group) for one in found}


def _in_runs(section: Section, on: date) -> dict[int, Run]:
    """By person a run of the day they are marked as present in."""
    runs = Run.objects.filter(group__section=section, opened_at__date=on).prefetch_related(
        "present"
    )
    return {person.pk: run for run in runs for person in run.present.all()}


def find_students(section: Section, text: str) -> list[Membership]:
    """Students of the term's other sections, by name or student number."""
    wanted = text.strip()
    if not wanted:
        return []
    by_words = Q(person__name__icontains=wanted) | Q(person__student_number__iexact=wanted)
    found = Membership.objects.filter(
        by_words, until__isnull=True, group__section__term=section.term_id
    ).exclude(group__section=section)
    return list(found.select_related("person", "group__section").order_by("person__name"))[
        :MOST_FOUND
    ]


def may_be_present(run: Run) -> QuerySet[Person]:
    """The group's members, its visitors of that day, and whoever is marked in the run already."""
    later = Attendance.objects.filter(
        person=OuterRef("person"), on=OuterRef("on"), pk__gt=OuterRef("pk")
    )
    visiting = Attendance.objects.filter(
        ~Exists(later), group=run.group_id, on=timezone.localdate(run.opened_at)
    ).exclude(came__in=AWAY)
    members = Membership.objects.filter(group=run.group_id, until__isnull=True)
    return Person.objects.filter(
        Q(pk__in=members.values("person"))
        | Q(pk__in=visiting.values("person"))
        | Q(pk__in=run.present.values("pk"))
    )
