"""Samples given to groups, and revealed: from then on their runs are reduced per mole too."""

from __future__ import annotations

from collections.abc import Iterable

from django.db import transaction

from .. import clock
from ..access import may, require
from ..lookups.readings import readings_of
from ..lookups.samples import due_samples, issue_of
from ..models import Account, Group, Run, Sample, SampleIssue
from ..problems import Problem, Refused, check_length, refuse, refuse_if_blocked
from ..problems.samples import with_issuing, with_words
from .reductions import reduce_and_keep

LONGEST_REASON = 400


@transaction.atomic
def issue_sample(sample: Sample, group: Group, reason: str = "", *, by: Account) -> SampleIssue:
    """Give a group its unknown. Giving it another needs its reason; the earlier issue stays."""
    require(by, "issue sample", group)
    check_length(reason, LONGEST_REASON, "reason")
    group = Group.objects.select_for_update().get(pk=group.pk)
    standing = issue_of(group)
    if standing is not None and standing.sample_id == sample.pk:
        return standing
    against = with_issuing(sample, group, standing, reason)
    refuse_if_blocked([*against, *with_words(group, reason, by)])
    return SampleIssue.objects.create(
        sample=sample, group=group, reason=reason.strip(), at=clock.now(), by=by
    )


@transaction.atomic
def issue_samples(
    chosen: Iterable[tuple[Group, Sample]], reason: str = "", *, by: Account
) -> list[SampleIssue]:
    """Give each group its sample, all or none; every reason against it is told at once."""
    issues: list[SampleIssue] = []
    problems: list[Problem] = []
    for group, sample in chosen:
        try:
            issues.append(issue_sample(sample, group, reason, by=by))
        except Refused as refused:
            problems += refused.problems
    if problems:
        raise Refused(*problems)
    return issues


@transaction.atomic
def reveal_sample(sample: Sample, *, by: Account) -> Sample:
    """Show a sample's identity to everyone, and reduce its completed runs with it."""
    require(by, "reveal sample", sample)
    sample = Sample.objects.select_for_update().get(pk=sample.pk)
    if not sample.is_hidden:
        raise refuse("revealed", f"Sample {sample} was revealed already.")
    sample.revealed_at = clock.now()
    sample.save(update_fields=["revealed_at"])
    for run in Run.objects.filter(sample=sample, completed_at__isnull=False):
        reduce_and_keep(run, readings_of(run), by=by, reason="sample revealed")
    return sample


@transaction.atomic
def reveal_due(*, by: Account) -> list[Sample]:
    """Reveal every sample whose day has come, as far as this account may."""
    require(by, "reveal sample")
    due = [sample for sample in due_samples() if may(by, "reveal sample", sample)]
    return [reveal_sample(sample, by=by) for sample in due]
