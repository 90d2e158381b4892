"""What a roster would change in a term: students added, moved, renamed and dropped. Reads only."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from ..intake.rosters import BadRow, Entry, Roster
from ..models import Membership, Person, Term
from .roster_changes import Change, Options, RosterPlan
from .roster_standing import Standing, squeezed, standing_of


def plan_roster(term: Term, roster: Roster, options: Options) -> RosterPlan:
    planner = _Planner(RosterPlan(term, options, bad=list(roster.bad)), standing_of(term, roster))
    placed = [found for entry in roster.entries if (found := planner.place(entry)) is not None]
    for entry, person in planner.fill(placed):
        planner.compare(entry, person)
    planner.drop(roster)
    plan = planner.plan
    plan.remarks = roster.remarks
    plan.bad.sort(key=_order)
    return plan


def _order(row: BadRow) -> tuple[str, int]:
    file, _, line = row.where.rpartition("line ")
    return file, int(line)


Placed = tuple[Entry, Person | None]


class _Planner:
    def __init__(self, plan: RosterPlan, standing: Standing) -> None:
        self.plan, self.standing = plan, standing
        self.on_roster: set[int] = set()
        self.full: Counter[tuple[str, str]] = Counter()

    def refuse(self, entry: Entry, seen: str, expected: str) -> None:
        self.plan.bad.append(BadRow(entry.where, seen, expected, entry.keys))

    def place(self, entry: Entry) -> Placed | None:
        """The row with section and group as the term writes them, and the person it is about."""
        section = self._section(entry)
        if section is None:
            return None
        entry = replace(entry, section=section)
        if entry.group:
            group = self._group(entry)
            if group is None:
                return None
            entry = replace(entry, group=group)
        found = self._person(entry)
        if isinstance(found, str):
            self.refuse(entry, found, "Say who it is by student number; correct the other’s first.")
            return None
        if found is not None:
            if found.pk in self.on_roster:
                self.refuse(entry, f"{entry.name}, who stands on the roster already", "Once.")
                return None
            self.on_roster.add(found.pk)
        return entry, found

    def _section(self, entry: Entry) -> str | None:
        key = squeezed(entry.section)
        if key not in self.standing.sections:
            if not self.plan.options.makes:
                there = ", ".join(sorted(self.standing.sections.values())) or "none yet"
                expected = f"One of the term’s: {there}. Or let it be made."
                self.refuse(entry, f"section “{entry.section}”", expected)
                return None
            self.standing.sections[key] = " ".join(entry.section.split())
            self.standing.groups[key] = {}
            self.plan.new_sections.append(self.standing.sections[key])
        return self.standing.sections[key]

    def _group(self, entry: Entry) -> str | None:
        groups = self.standing.groups[squeezed(entry.section)]
        key = squeezed(entry.group)
        if key not in groups:
            if not self.plan.options.makes:
                there = ", ".join(sorted(groups.values())) or "none yet"
                expected = f"One of {entry.section}: {there}. Or let it be made."
                self.refuse(entry, f"group “{entry.group}”", expected)
                return None
            self._make_group(entry.section, " ".join(entry.group.split()))
        return groups[key]

    def _make_group(self, section: str, code: str) -> str:
        self.standing.groups[squeezed(section)][squeezed(code)] = code
        self.plan.new_groups.append((section, code))
        return code

    def _person(self, entry: Entry) -> Person | str | None:
        """Who a row is about: by id, then by number, then by a name of this term; or a clash."""
        by_id = self.standing.by_id.get(squeezed(entry.roster_id), []) if entry.roster_id else []
        by_number = self.standing.by_number.get(squeezed(entry.number), []) if entry.number else []
        if len({person.pk for person in (*by_id, *by_number)}) > 1:
            return f"id “{entry.roster_id}” and student number “{entry.number}” of different people"
        known = by_id or by_number
        if known:
            other = known[0].roster_id
            if not by_id and entry.roster_id and other and other != entry.roster_id:
                return f"student number “{entry.number}”, which belongs to another id"
            return known[0]
        named = self.standing.by_name.get(squeezed(entry.name), [])
        named = [person for person in named if not _is_other(person, entry)]
        if len(named) > 1:
            return f"“{entry.name}”, as more than one in this term is called"
        return named[0] if named else None

    def fill(self, placed: list[Placed]) -> list[Placed]:
        """Every row with a group, none with more than its places: the file's own groups first."""
        given = [one for one in placed if one[0].group]
        seated = [one for one in given if self._seat(one[0], one[0].group)]
        without = [one for one in placed if not one[0].group]
        kept = [(entry, person, self._own(entry, person)) for entry, person in without]
        for entry, person, own in sorted(kept, key=lambda one: not one[2]):
            group = own or self._emptiest(entry.section)
            if group is None:
                expected = (
                    f"At most {self.plan.options.places} in a group: raise it, or add groups."
                )
                self.refuse(entry, f"no place free in section {entry.section}", expected)
            elif self._seat(entry, group):
                seated.append((replace(entry, group=group), person))
        return seated

    def _seat(self, entry: Entry, group: str) -> bool:
        if self.full[entry.section, group] >= self.plan.options.places:
            expected = f"At most {self.plan.options.places} in a group: raise it, or move one."
            self.refuse(entry, f"group {group} of section {entry.section} is full", expected)
            return False
        self.full[entry.section, group] += 1
        return True

    def _own(self, entry: Entry, person: Person | None) -> str:
        member = self.standing.members.get(person.pk) if person else None
        inside = member is not None and member.group.section.name == entry.section
        return member.group.code if member and inside else ""

    def _emptiest(self, section: str) -> str | None:
        """The group with most places free; a new one where there is none and it may be made."""
        groups = self.standing.groups[squeezed(section)]
        free = [
            code for code in groups.values() if self.full[section, code] < self.plan.options.places
        ]
        if free:
            return min(free, key=lambda code: (self.full[section, code], code))
        return (
            self._make_group(section, self._free_code(section)) if self.plan.options.makes else None
        )

    def _free_code(self, section: str) -> str:
        groups = self.standing.groups[squeezed(section)]
        number = len(groups) + 1
        while squeezed(f"G{number}") in groups:
            number += 1
        return f"G{number}"

    def compare(self, entry: Entry, person: Person | None) -> None:
        """One seated row against the term as it is."""
        change = Change(
            "add",
            entry.where,
            entry.name,
            entry.section,
            entry.group,
            entry.number,
            entry.roster_id,
            person.pk if person else None,
        )
        if person is None:
            self.plan.changes.append(change)
            return
        renamed = person.name != entry.name
        if renamed or _learned(person, entry):
            was = person.name if renamed else ""
            self.plan.changes.append(replace(change, kind="rename", was=was))
        member = self.standing.members.get(person.pk)
        if member is None:
            self.plan.changes.append(change)
        elif (member.group.section.name, member.group.code) != (entry.section, entry.group):
            self.plan.changes.append(replace(change, kind="move", was=_place(member)))
        elif not renamed and not _learned(person, entry):
            self.plan.unchanged += 1

    def drop(self, roster: Roster) -> None:
        """End the memberships of those who left; never of one whose row could not be read."""
        unreadable = {squeezed(key) for row in self.plan.bad for key in row.keys}
        unnamed = any(not row.keys for row in self.plan.bad)
        for member in self.standing.members.values():
            person = member.person
            if person.pk in self.on_roster or not self._has_left(member, roster):
                continue
            change = Change(
                "drop", "", person.name, member.group.section.name, member.group.code,
                person.student_number, person.roster_id, person.pk, _place(member),
            )  # fmt: skip
            keys = (person.roster_id, person.student_number, person.name)
            in_doubt = unnamed or any(squeezed(key) in unreadable for key in keys if key)
            (self.plan.held_back if in_doubt else self.plan.changes).append(change)

    def _has_left(self, member: Membership, roster: Roster) -> bool:
        if not self.plan.options.drops:
            return False
        if roster.is_complete:
            return True
        places = ("", squeezed(member.group.section.name))
        return any(
            one.roster_id == member.person.roster_id and squeezed(one.section) in places
            for one in roster.left
            if one.roster_id
        )


def _is_other(person: Person, entry: Entry) -> bool:
    """Whether somebody of the same name is known by another number or id than the row's."""
    other_number = entry.number and person.student_number not in ("", entry.number)
    other_id = entry.roster_id and person.roster_id not in ("", entry.roster_id)
    return bool(other_number or other_id)


def _learned(person: Person, entry: Entry) -> bool:
    """Whether the row tells a number or an id that is not kept yet."""
    number = entry.number and entry.number != person.student_number
    return bool(number or (entry.roster_id and entry.roster_id != person.roster_id))


def _place(member: Membership) -> str:
    return f"{member.group.section.name}, {member.group.code}"
