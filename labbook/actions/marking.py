"""Marking hand-ins: ticks first, points applied after; a change is one more mark."""

from __future__ import annotations

from collections.abc import Collection

from django.db import transaction

from .. import clock
from ..access import may, require
from ..lookups.marking import (
    asked_by,
    is_shared,
    listed,
    may_mark,
    points_of,
)
from ..models import (
    Account,
    Descriptor,
    HandIn,
    Mark,
    MarkScheme,
    MarksGivenOut,
    Role,
    Section,
    SharedHandIn,
)
from ..problems import check_length, refuse, refuse_if_blocked
from ..problems.marking import LONGEST_REMARK, with_giving_out, with_mark, with_scheme
from ..problems.samples import with_words
from .setup import keep


@transaction.atomic
def mark_hand_in(
    hand_in: HandIn,
    ticked: Collection[int],
    remark: str = "",
    *,
    seen: str,
    counts: bool = False,
    by: Account,
) -> Mark:
    """Keep which descriptors were seen, with the points they come to.

    ``seen`` says what the marker’s page was made from. On a hand-in marked by several, a mark of
    the section’s own TA is the group’s; ``counts`` makes a coordinator’s so.
    """
    hand_in = _held(hand_in, by)
    term = hand_in.group.section.term
    refuse_if_blocked(with_scheme(term))
    scheme = term.mark_scheme
    assert scheme is not None
    check_length(remark, LONGEST_REMARK, "remark")
    refuse_if_blocked(with_mark(hand_in, scheme, ticked, seen, by))
    refuse_if_blocked(with_words(hand_in.group, remark, by))
    ticks = asked_by(scheme, ticked)
    return Mark.objects.create(
        hand_in=hand_in,
        scheme=scheme,
        ticks=ticks,
        points=points_of(tick for tick in ticks if tick["seen"]),
        out_of=points_of(ticks),
        remark=remark.strip(),
        is_shared_sample=is_shared(hand_in) and not _is_the_groups(hand_in, counts, by),
        at=clock.now(),
        by=by,
    )


def _held(hand_in: HandIn, by: Account) -> HandIn:
    """The hand-in. Its section is held: two pages of one marker, and giving out, come in turn."""
    Section.objects.select_for_update().get(groups=hand_in.group_id)
    related = ("group__section__term__mark_scheme", "shared")
    found = HandIn.objects.select_related(*related).defer("record").get(pk=hand_in.pk)
    if not may_mark(by, found):
        require(by, "mark", found)
    return found


def _is_the_groups(hand_in: HandIn, counts: bool, by: Account) -> bool:
    return counts if by.role == Role.COORDINATOR else may(by, "mark", hand_in)


@transaction.atomic
def share_hand_in(hand_in: HandIn, *, by: Account) -> SharedHandIn:
    """Let every TA of the term mark it, each without the others’ marks in sight."""
    require(by, "mark", hand_in)
    Section.objects.select_for_update().get(groups=hand_in.group_id)
    refuse_if_blocked(with_scheme(hand_in.group.section.term))
    if SharedHandIn.objects.filter(hand_in=hand_in).exists():
        raise refuse("shared", "This hand-in is marked by several already.")
    return SharedHandIn.objects.create(hand_in=hand_in, at=clock.now(), by=by)


@transaction.atomic
def give_marks_out(section: Section, *, seen: str, by: Account) -> MarksGivenOut:
    """Show each group of a section the mark that stands now; later ones wait for the next time."""
    require(by, "give marks out", section)
    section = Section.objects.select_for_update().get(pk=section.pk)
    now = listed(section, by)
    refuse_if_blocked(with_giving_out(now))
    if seen != now.seen:
        sentence = (
            "A mark was added after this page was opened, and nothing was given out: look at the "
            "list as it is now, then give the marks out."
        )
        raise refuse("stale", sentence)
    return MarksGivenOut.objects.create(section=section, at=clock.now(), by=by)


@transaction.atomic
def add_descriptor(descriptor: Descriptor, *, by: Account) -> Descriptor:
    """Put a descriptor at the end of its scheme."""
    require(by, "set up")
    last = descriptor.scheme.descriptors.order_by("order").last()
    descriptor.order = last.order + 1 if last else 1
    keep(descriptor, by=by)
    return descriptor


@transaction.atomic
def copy_scheme(scheme: MarkScheme, name: str, *, by: Account) -> MarkScheme:
    """A scheme of the same descriptors, those in use, to be changed on its own."""
    require(by, "set up")
    name = name.strip()
    check_length(name, 60, "name")
    if not name or MarkScheme.objects.filter(name=name).exists():
        sentence = f"Give the copy a name of its own; “{name or scheme.name}” is no new one."
        raise refuse("name", sentence, "name")
    copy = MarkScheme(name=name, is_blind=scheme.is_blind)
    keep(copy, by=by)
    for one in scheme.descriptors.filter(in_use=True):
        fields = {key: getattr(one, key) for key in ("part", "words", "points", "order")}
        keep(Descriptor(scheme=copy, **fields), by=by)
    return copy
