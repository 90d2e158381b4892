"""Recording a change of state, and holding a record while it is made."""

from __future__ import annotations

from typing import TypeVar

from .. import clock
from ..models import Account, Decision, Run, Standardization
from ..problems import check_length, refuse_if_blocked
from ..problems.samples import with_words

Subject = TypeVar("Subject", Run, Standardization)
LONGEST_REASON = 400


def hold(record: Subject) -> Subject:
    """The record as it is now, locked until the transaction ends."""
    held: Subject = type(record)._default_manager.select_for_update().get(pk=record.pk)
    return held


def record_decision(
    subject: Run | Standardization,
    deed: Decision.Deed,
    *,
    by: Account,
    old: str = "",
    new: str = "",
    reason: str = "",
) -> Decision:
    check_length(reason, LONGEST_REASON, "reason")
    refuse_if_blocked(with_words(subject.group, reason, by))
    about = {"run": subject} if isinstance(subject, Run) else {"standardization": subject}
    return Decision.objects.create(
        **about, deed=deed, old=old, new=new, by=by, at=clock.now(), reason=reason.strip()
    )


def move_to(
    subject: Run | Standardization,
    state: str,
    deed: Decision.Deed,
    *,
    by: Account,
    reason: str = "",
) -> None:
    """Change the state and append the decision that did it."""
    old, subject.state = subject.state, state
    subject.save()
    record_decision(subject, deed, by=by, old=old, new=state, reason=reason)
