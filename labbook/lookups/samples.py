"""Samples: what an account may know of them, who holds which, and which are due."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet

from .. import clock
from ..access import Reach, may, reach_of
from ..models import Account, Group, Sample, SampleIssue, Section, Term


def visible_samples(account: Account) -> QuerySet[Sample]:
    """All with their identity for staff; for a group the one that was issued to it, unfetched."""
    if may(account, "see sample identity"):
        return Sample.objects.select_related("term", "substance")
    issue = issue_of(account.group) if account.group else None
    return Sample.objects.filter(pk=issue.sample_id) if issue else Sample.objects.none()


def issue_of(group: Group) -> SampleIssue | None:
    """The issue that stands: the group's newest."""
    return group.issues.select_related("sample").last()


def issues_of(groups: Iterable[Group]) -> dict[int, list[SampleIssue]]:
    """Everything that was issued to these groups, oldest first, by the group's number."""
    found: dict[int, list[SampleIssue]] = {group.pk: [] for group in groups}
    for issue in SampleIssue.objects.filter(group__in=found).select_related("sample", "by"):
        found[issue.group_id].append(issue)
    return found


def in_bench_order(section: Section) -> list[Group]:
    """Groups as they stand in the room: by bench, B10 after B9; those without a bench last."""
    groups = section.groups.select_related("bench")
    return sorted(groups, key=lambda group: (group.bench is None, _place(group), group.code))


def _place(group: Group) -> list[tuple[int, str]]:
    code = group.bench.code if group.bench else ""
    return [(int(piece or 0), "") if piece.isdigit() else (-1, piece)
            for piece in re.split(r"(\d+)", code)]  # fmt: skip


def sections_to_issue(account: Account) -> QuerySet[Section]:
    """Sections of the terms still running whose groups this account gives samples to."""
    running = Section.objects.filter(term__ends__gte=clock.today()).select_related("term")
    reach = reach_of(account, "issue sample")
    if reach is Reach.ALL:
        return running
    return running.filter(assistants=account) if reach is Reach.SECTIONS else running.none()


def due_samples() -> QuerySet[Sample]:
    """Hidden samples whose day has come, the longest due first."""
    hidden = Sample.objects.filter(revealed_at__isnull=True, reveal_on__lte=clock.today())
    return hidden.select_related("term").order_by("reveal_on", "label")


def who_dated(sample: Sample) -> Account | None:
    """Who set the day on which a sample is revealed; None where no history tells."""
    setter = None
    for row in sample.history.select_related("history_user"):
        if row.reveal_on != sample.reveal_on:
            break
        setter = row.history_user
    return setter


@dataclass(frozen=True)
class SealedTerm:
    """A term's samples with their identities, for staff: each with the groups that hold it."""

    term: Term
    rows: list[tuple[Sample, list[Group]]]

    @property
    def is_over(self) -> bool:
        return self.term.ends < clock.today()


def sealed_lists(account: Account) -> list[SealedTerm]:
    """The sealed list of every term that has samples, the newest first."""
    samples = visible_samples(account).order_by("-term__starts", "term", "label")
    groups = Group.objects.filter(section__term__in=samples.values("term")).order_by("code")
    holders: dict[int, list[Group]] = {}
    standing = {group: issues[-1] for group, issues in _with_issues(list(groups)) if issues}
    for group, issue in standing.items():
        holders.setdefault(issue.sample_id, []).append(group)
    lists: dict[int, SealedTerm] = {}
    for sample in samples:
        of_term = lists.setdefault(sample.term_id, SealedTerm(sample.term, []))
        of_term.rows.append((sample, holders.get(sample.pk, [])))
    return list(lists.values())


def _with_issues(groups: list[Group]) -> list[tuple[Group, list[SampleIssue]]]:
    issues = issues_of(groups)
    return [(group, issues[group.pk]) for group in groups]
