"""Hand-ins and their marks: who may mark what, which mark stands, what waits, what was given out.

Marks are added, never changed. A group's mark is the newest one on the latest version that has
one; marks made only to compare markers never count as a group's.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, TypedDict

from django.db.models import Q, QuerySet

from ..access import Reach, may, reach_of, within_reach
from ..models import (
    Account,
    Descriptor,
    Group,
    HandIn,
    Mark,
    MarkScheme,
    MarksGivenOut,
    Purge,
    Section,
)
from .blinding import blind_numbers


class Tick(TypedDict):
    """A descriptor as it was when a marker looked for it, and whether it was seen."""

    descriptor: int
    part: str
    words: str
    points: str
    seen: bool


@dataclass(frozen=True)
class Part:
    """The descriptors below one heading."""

    title: str
    ticks: list[Tick]

    @property
    def points(self) -> Decimal:
        return points_of(tick for tick in self.ticks if tick["seen"])

    @property
    def out_of(self) -> Decimal:
        return points_of(self.ticks)


def points_of(ticks: Iterable[Tick]) -> Decimal:
    return sum((Decimal(tick["points"]) for tick in ticks), Decimal(0))


def parts_of(ticks: Sequence[Tick]) -> list[Part]:
    """By their headings, in the order these first come."""
    titles = list(dict.fromkeys(tick["part"] for tick in ticks))
    return [Part(title, [tick for tick in ticks if tick["part"] == title]) for title in titles]


def asked_by(scheme: MarkScheme, seen: Iterable[int] = ()) -> list[Tick]:
    """The descriptors in use, those in ``seen`` ticked, together by their headings."""
    ticked = set(seen)
    ticks = [
        Tick(
            descriptor=one.pk,
            part=one.part,
            words=one.words,
            points=f"{one.points.normalize():f}",
            seen=one.pk in ticked,
        )
        for one in scheme.descriptors.filter(in_use=True)
    ]
    return [tick for part in parts_of(ticks) for tick in part.ticks]


def seen_in(mark: Mark | None) -> set[int]:
    return {tick["descriptor"] for tick in mark.ticks if tick["seen"]} if mark else set()


def state_seen(scheme: MarkScheme, own: Mark | None) -> str:
    """What a marking page was made from: the marker's own newest mark, and the scheme as it was."""
    asked = json.dumps(asked_by(scheme), sort_keys=True, ensure_ascii=False)
    return f"{own.pk if own else 0}-{hashlib.sha256(asked.encode()).hexdigest()[:16]}"


def marks_naming(descriptor: Descriptor) -> int:
    """How many marks a descriptor stands in, seen or not."""
    kept = Mark.objects.filter(scheme=descriptor.scheme_id).values_list("ticks", flat=True)
    return sum(any(tick["descriptor"] == descriptor.pk for tick in ticks) for ticks in kept)


def hand_ins_to_mark(account: Account) -> QuerySet[HandIn]:
    """Those of the account's sections, and those that every TA of the term marks."""
    found = HandIn.objects.select_related("group__section__term__mark_scheme", "shared")
    if reach_of(account, "mark") is Reach.ALL:
        return found
    shared = within_reach(account, "mark shared hand-in") & Q(shared__isnull=False)
    return found.filter(within_reach(account, "mark") | shared)


def may_mark(account: Account, hand_in: HandIn) -> bool:
    if may(account, "mark", hand_in):
        return True
    return is_shared(hand_in) and may(account, "mark shared hand-in", hand_in)


def is_shared(hand_in: HandIn) -> bool:
    return getattr(hand_in, "shared", None) is not None


def own_mark(hand_in: HandIn, account: Account) -> Mark | None:
    """The marker's own newest, which stands for them."""
    return hand_in.marks.filter(by=account).order_by("-pk").first()


def marked_by(account: Account, hand_ins: Iterable[HandIn]) -> set[int]:
    """The keys of those that this marker has marked."""
    found = Mark.objects.filter(hand_in__in=list(hand_ins), by=account)
    return set(found.values_list("hand_in", flat=True))


def earlier_own(hand_in: HandIn, account: Account) -> Mark | None:
    """The marker's own newest on an earlier version of the same group's work."""
    found = Mark.objects.filter(hand_in__group=hand_in.group_id, by=account)
    earlier = found.filter(hand_in__version__lt=hand_in.version)
    return earlier.select_related("hand_in").order_by("hand_in__version", "pk").last()


def standing_marks(groups: Q, **until: Any) -> dict[int, Mark]:
    """The mark that counts for each group, by the group's key. ``groups`` filters marks."""
    found = Mark.objects.filter(groups, is_shared_sample=False, **until)
    by_group = found.order_by("hand_in__version", "pk").select_related(
        "hand_in__group__section", "by"
    )
    return {mark.hand_in.group_id: mark for mark in by_group.defer("hand_in__record")}


def newest_hand_ins(section: Section) -> dict[int, HandIn]:
    """The latest version of each group, by the group's key."""
    found = HandIn.objects.filter(group__section=section).defer("record")
    ordered = found.select_related("group", "shared").order_by("version")
    return {hand_in.group_id: hand_in for hand_in in ordered}


def given_out(section: Section) -> MarksGivenOut | None:
    """The last time the section's marks were given out."""
    return section.marks_given_out.select_related("by").first()


def is_blind(section: Section) -> bool:
    """Whether markers see numbers in place of groups: until every group has its mark."""
    scheme = section.term.mark_scheme
    if scheme is None or not scheme.is_blind:
        return False
    given = given_out(section)
    if given is None:
        return True
    marked = standing_marks(Q(hand_in__group__section=section), at__lte=given.at)
    return not set(newest_hand_ins(section)) <= set(marked)


def is_anonymous(hand_in: HandIn, account: Account) -> bool:
    """Whether this marker is not to know whose it is; outside one's sections one never is."""
    return is_blind(hand_in.group.section) or not may(account, "see hand-in", hand_in)


def marks_openly(account: Account, group: Group) -> bool:
    """Whether a page that names the group may lead its marker to where it is marked."""
    return may(account, "mark", group) and not is_blind(group.section)


@dataclass(frozen=True)
class Line:
    """One group in the list of its section: its newest hand-in, and the mark that stands."""

    name: str
    group: Group
    hand_in: HandIn
    mark: Mark | None
    shows_points: bool

    @property
    def is_shared(self) -> bool:
        return is_shared(self.hand_in)

    @property
    def waits(self) -> str:
        """Why it waits for a marker; nothing where the newest version is marked."""
        if self.mark is None:
            return "not marked yet"
        if self.mark.hand_in_id != self.hand_in.pk:
            return f"version {self.hand_in.version} came after the mark"
        return ""


@dataclass(frozen=True)
class Listed:
    """What there is to mark in a section."""

    section: Section
    blind: bool
    lines: list[Line]
    without: list[Group]

    @property
    def waiting(self) -> list[Line]:
        return [line for line in self.lines if line.waits]

    @property
    def marked(self) -> list[Line]:
        return [line for line in self.lines if line.mark]

    def not_in(self, given: MarksGivenOut | None) -> list[Line]:
        """Whose standing mark was added after they were last given out."""
        return [line for line in self.lines if line.mark and (not given or line.mark.at > given.at)]

    @property
    def seen(self) -> str:
        """Which marks would be given out: another one since then is not given out unseen."""
        keys = sorted(line.mark.pk for line in self.marked if line.mark)
        return hashlib.sha256(",".join(map(str, keys)).encode()).hexdigest()[:16]


def listed(section: Section, account: Account) -> Listed:
    """In the order of the groups, or of their numbers where marking is blind."""
    blind = is_blind(section)
    newest = newest_hand_ins(section)
    marks = standing_marks(Q(hand_in__group__section=section))
    numbers = blind_numbers(section.term) if blind else {}
    own = marked_by(account, newest.values())
    groups = list(section.groups.order_by("code"))
    lines = [
        Line(
            name=f"Number {numbers[group.pk]}" if blind else f"Group {group.code}",
            group=group,
            hand_in=(found := newest[group.pk]),
            mark=marks.get(group.pk),
            shows_points=not is_shared(found) or found.pk in own,
        )
        for group in groups
        if group.pk in newest
    ]
    if blind:
        lines.sort(key=lambda line: line.name)
    return Listed(section, blind, lines, [one for one in groups if one.pk not in newest])


def sections_to_mark(account: Account) -> QuerySet[Section]:
    """The sections whose hand-ins an account marks, of terms that are over too."""
    sections = Section.objects.select_related("term__mark_scheme")
    reach = reach_of(account, "mark")
    if reach is Reach.ALL:
        return sections
    if reach is Reach.SECTIONS:
        return sections.filter(assistants=account)
    return sections.none()


def with_hand_ins(account: Account) -> list[tuple[Section, int]]:
    """Those with something handed in, the newest term first, and how much of it waits."""
    sections = sections_to_mark(account)
    waiting = _waiting(sections)
    found = sections.filter(groups__hand_ins__isnull=False).distinct()
    ordered = found.order_by("-term__starts", "name")
    return [(section, waiting[section.pk]) for section in ordered]


def waiting_count(account: Account) -> int:
    """How many hand-ins wait for a mark in terms that have a scheme and are not closed."""
    open_ones = {"term__mark_scheme__isnull": False, "term__closing__isnull": True}
    return _waiting(sections_to_mark(account).filter(**open_ones)).total()


def _waiting(sections: QuerySet[Section]) -> Counter[int]:
    """For each section, how many groups' newest version has no mark yet."""
    keys = sections.order_by().values("pk")
    found = HandIn.objects.filter(group__section__in=keys).order_by("version")
    rows = found.values_list("group", "group__section", "pk")
    newest = {group: (section, hand_in) for group, section, hand_in in rows}
    marks = Mark.objects.filter(hand_in__group__section__in=keys, is_shared_sample=False)
    marked = set(marks.values_list("hand_in", flat=True))
    return Counter(section for section, hand_in in newest.values() if hand_in not in marked)


def shared_to_mark(account: Account) -> list[tuple[HandIn, bool]]:
    """Hand-ins marked by several in an account's terms, and whether it has marked each."""
    found = hand_ins_to_mark(account).filter(shared__isnull=False).defer("record")
    shared = list(found.order_by("-shared__pk"))
    own = marked_by(account, shared)
    return [(hand_in, hand_in.pk in own) for hand_in in shared]


@dataclass(frozen=True)
class GivenMark:
    """A group's mark as it was given out."""

    mark: Mark
    given: MarksGivenOut

    @property
    def parts(self) -> list[Part]:
        return parts_of(self.mark.ticks)


def mark_given_to(group: Group) -> GivenMark | None:
    """The mark that stood when the section's marks were last given out, and no later one."""
    given = given_out(group.section)
    if given is None:
        return None
    mark = standing_marks(Q(hand_in__group=group), at__lte=given.at).get(group.pk)
    return None if mark is None else GivenMark(mark, given)


def marks_removed(group: Group) -> Purge | None:
    """When the marks of the group's term went for good."""
    return group.section.term.purges.filter(what=Purge.What.MARKS).order_by("-pk").first()
