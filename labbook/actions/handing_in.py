"""Handing in: a group's work as it stands, kept as a version that never changes."""

from __future__ import annotations

from django.db import transaction

from .. import clock
from ..access import require
from ..lookups.snapshots import packed, snapshot_of
from ..models import Account, Group, HandIn, Person
from ..problems import check_length, refuse, refuse_if_blocked
from ..problems.handing_in import with_handing_in

LONGEST_WORDS = 400


@transaction.atomic
def hand_in(
    group: Group, words: str = "", *, by: Account, entered_by: Person | None = None
) -> HandIn:
    """Keep the next version; from the second on it says what was changed."""
    require(by, "hand in", group)
    group = Group.objects.select_for_update().get(pk=group.pk)
    check_length(words, LONGEST_WORDS, "words")
    _check_member(group, entered_by)
    missing = with_handing_in(group)
    refuse_if_blocked(missing)
    record, sha256 = packed(snapshot_of(group))
    newest = group.hand_ins.defer("record").first()
    if newest is not None:
        _check_next(newest, sha256, words)
    return HandIn.objects.create(
        group=group,
        version=1 if newest is None else newest.version + 1,
        at=clock.now(),
        by=by,
        entered_by=entered_by,
        missing=[problem.sentence for problem in missing],
        words=words.strip(),
        record=record,
        record_sha256=sha256,
    )


def _check_member(group: Group, person: Person | None) -> None:
    if person is None or group.memberships.filter(person=person, until=None).exists():
        return
    raise refuse("member", "Choose somebody of your own group as the one who hands in.", "person")


def _check_next(newest: HandIn, sha256: str, words: str) -> None:
    if newest.record_sha256 == sha256:
        sentence = f"Nothing has changed since version {newest.version}; it stands as handed in."
        raise refuse("unchanged", sentence)
    if not words.strip():
        sentence = f"Say what was changed since version {newest.version}, in a few words."
        raise refuse("words", sentence, "words")
