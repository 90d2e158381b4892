"""The sign-ins to try, each with what is waiting there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from ..lookups.marking import waiting_count
from ..lookups.runs import unfinished_runs, unsigned_runs
from ..lookups.standardizations import waiting_for_decision
from ..models import Account, Group, Role, Standardization, Term
from .course_dates import BEFORE
from .laboratory import MAKER
from .scenario import Scenario


@dataclass(frozen=True)
class SignIn:
    name: str
    password: str
    role: str
    waiting: str


def sign_ins(scenario: Scenario) -> list[SignIn]:
    """Groups of the newest term, the section of today first; then its TAs; the coordinator."""
    term = Term.objects.order_by("-starts").first()
    groups = Account.objects.filter(role=Role.GROUP, is_active=True, group__section__term=term)
    staff = Account.objects.filter(is_active=True).exclude(role=Role.GROUP)
    assistants = staff.filter(sections__term=term).distinct().order_by("-sections__name")
    coordinators = staff.filter(role=Role.COORDINATOR).exclude(username=MAKER)
    newest_first = groups.select_related("group__bench").order_by("-group__section__name", "pk")
    return [
        SignIn(
            account.username,
            scenario.people["passwords"].get(account.role, ""),
            Role(account.role).label,
            _waiting_for(account),
        )
        for account in (*newest_first, *assistants, *coordinators)
    ]


def day_built() -> date:
    """The middle of the last term, which at the build was today."""
    return Term.objects.latest("starts").starts + BEFORE


def _waiting_for(account: Account) -> str:
    if account.role == Role.GROUP:
        assert account.group is not None
        return _waiting_for_group(account, account.group)
    if account.role == Role.COORDINATOR:
        return "the benches with their histories, set-up, samples to reveal"
    counts = (
        (waiting_for_decision(account).count(), "standardization", "to decide"),
        (unsigned_runs(account).count(), "sheet", "to sign"),
        (waiting_count(account), "hand-in", "to mark"),
    )
    waiting = [
        f"{count} {word}{'s' if count > 1 else ''} {verb}" for count, word, verb in counts if count
    ]
    return ", ".join(waiting) or "nothing just now"


def _waiting_for_group(account: Account, group: Group) -> str:
    run = unfinished_runs(account).first()
    if run is not None:
        sample = f" {run.sample}" if run.sample else ""
        return f"{group.bench}: {run.get_kind_display()} run{sample} {run.replicate} is {run.state}"
    standardization = group.standardizations.first()
    if standardization is None:
        return f"{group.bench or 'no bench'}: nothing yet"
    if standardization.state == Standardization.State.APPROVED:
        return f"{group.bench}: standardized and approved, runs to look at"
    return f"{group.bench}: standardization {standardization.get_state_display()}"
