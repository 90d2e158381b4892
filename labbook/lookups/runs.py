"""Runs within an account's reach."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet

from .. import clock
from ..access import within_reach
from ..models import Account, BenchPreparation, Group, LoggerFile, Run, SampleIssue, Standardization
from .afternoons import newest_preparation
from .practice import is_of_practice
from .samples import issue_of
from .standardizations import Summary, approval_in_force, summary_of, summary_shown
from .unlocking import show_results


def visible_runs(account: Account) -> QuerySet[Run]:
    return Run.objects.filter(within_reach(account, "see run")).select_related(
        "bench",
        "configuration__vessel",
        "group__section__term",
        "method",
        "standardization",
        "rests_on",
        "sample",
        "standard_lot__substance",
        "fuse_lot",
        "titrant_lot",
        "aid_lot",
        "second_aid_lot",
        "result",
        "signed_by",
    )


def has_open_run(accounts: Iterable[Account]) -> bool:
    """Whether a group among them has a run that is not finished."""
    groups = {account.group_id for account in accounts} - {None}
    states = (Run.State.OPEN, Run.State.FIRED)
    return Run.objects.filter(group__in=groups, state__in=states).exists()


def visible_files(account: Account) -> QuerySet[LoggerFile]:
    runs = Run.objects.filter(within_reach(account, "see run"))
    return LoggerFile.objects.filter(run__in=runs).select_related("run__group__section")


@dataclass(frozen=True)
class Afternoon:
    """What a group sees when it signs in: its bench, its runs and what comes next."""

    group: Group
    standardization: Standardization | None
    summary: Summary | None
    approval: Standardization | None
    preparation: BenchPreparation | None
    runs: list[Run]
    issue: SampleIssue | None


def afternoon_of(account: Account) -> Afternoon:
    group = account.group
    assert group is not None
    standardization = group.standardizations.select_related("bench", "method").first()
    return Afternoon(
        group=group,
        standardization=standardization,
        summary=summary_shown(summary_of(standardization), account) if standardization else None,
        approval=approval_in_force(group.bench, of_practice=is_of_practice(group))
        if group.bench
        else None,
        preparation=newest_preparation(group) if group.bench else None,
        runs=show_results(account, visible_runs(account)),
        issue=issue_of(group),
    )


def unfinished_runs(account: Account) -> QuerySet[Run]:
    """Runs being worked on, the longest open first."""
    return (
        visible_runs(account)
        .filter(state__in=[Run.State.OPEN, Run.State.FIRED])
        .order_by("opened_at")
    )


def unsigned_runs(account: Account) -> QuerySet[Run]:
    """Complete sheets that nobody has signed, of the terms still running."""
    return (
        visible_runs(account)
        .filter(state=Run.State.COMPLETE, group__section__term__ends__gte=clock.today())
        .order_by("completed_at")
    )
