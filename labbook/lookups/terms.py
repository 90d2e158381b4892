"""Terms with what is in them, and the latest of them to begin the next from."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from django.db.models import Count, F, Q, QuerySet

from .. import clock
from ..models import Account, Group, Membership, Method, Role, Run, Section, Term, TermClosing


def terms_with_counts() -> QuerySet[Term]:
    live = Q(sections__groups__memberships__until__isnull=True)
    people = Count("sections__groups__memberships__person", filter=live, distinct=True)
    terms = Term.objects.select_related("closing", "method").order_by("-starts")
    return terms.annotate(
        section_count=Count("sections", distinct=True),
        group_count=Count("sections__groups", distinct=True),
        people_count=people,
    )


@dataclass(frozen=True)
class SectionRow:
    section: Section
    assistants: list[Account]
    groups: list[Group]
    people: int


def sections_of(term: Term) -> list[SectionRow]:
    """Each section with its TAs, its groups with bench and sign-in, and its number of people."""
    live = Membership.objects.filter(group__section__term=term, until__isnull=True)
    counted = live.values(section=F("group__section")).annotate(people=Count("person"))
    people = {row["section"]: row["people"] for row in counted.order_by()}
    groups: dict[int, list[Group]] = {}
    for group in groups_of(term):
        groups.setdefault(group.section_id, []).append(group)
    return [
        SectionRow(
            section, list(section.assistants.all()), groups.get(section.pk, []),
            people.get(section.pk, 0),
        )
        for section in term.sections.prefetch_related("assistants").order_by("name")
    ]  # fmt: skip


def groups_of(term: Term) -> QuerySet[Group]:
    found = Group.objects.filter(section__term=term).select_related("bench", "section", "account")
    return found.order_by("section__name", "code")


def groups_without_sign_in(term: Term) -> QuerySet[Group]:
    return groups_of(term).filter(account__isnull=True)


def newest_version(method: Method) -> Method:
    return Method.objects.filter(name=method.name).order_by("-version").first() or method


def like_last(basis: Term) -> Term:
    """The next term as it would be by the last: right after it, as long, kept as long."""
    starts = max(basis.ends + timedelta(days=1), clock.today())
    ends = starts + (basis.ends - basis.starts)
    return Term(
        starts=starts,
        ends=ends,
        method=newest_version(basis.method),
        is_practice=basis.is_practice,
        ours_unlock=basis.ours_unlock,
        mark_scheme=basis.mark_scheme,
        names_until=basis.names_until and ends + (basis.names_until - basis.ends),
        marks_until=basis.marks_until and ends + (basis.marks_until - basis.ends),
    )


def closing_of(term: Term) -> TermClosing | None:
    return TermClosing.objects.filter(term=term).select_related("by").first()


def run_count(term: Term) -> int:
    return Run.objects.filter(group__section__term=term).count()


def sign_ins(text: str = "") -> QuerySet[Account]:
    """Every sign-in that is open, staff first, by part of its name."""
    found = Account.objects.filter(is_active=True).select_related("group__section__term")
    if wanted := text.strip():
        named = Q(username__icontains=wanted) | Q(name__icontains=wanted)
        found = found.filter(named | Q(group__section__name__icontains=wanted))
    return found.order_by(
        F("group__section__term__starts").desc(nulls_first=True), "role", "username"
    )


def closed_sign_ins() -> QuerySet[Account]:
    """Those of staff, which may be opened again."""
    return Account.objects.filter(is_active=False).exclude(role=Role.GROUP).order_by("username")
