"""What groups handed in: who sees it, what changed since, and the names that belong to it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from django.db.models import QuerySet

from ..access import Reach, reach_of
from ..models import Account, Group, HandIn, Person, Run
from ..sheet import FIELDS
from .snapshots import Record
from .unlocking import unlocked


def groups_handing_in(account: Account) -> QuerySet[Group]:
    """Groups whose hand-ins the account may see, of terms that are over too."""
    groups = Group.objects.select_related("section__term", "bench")
    reach = reach_of(account, "see hand-in")
    if reach is Reach.ALL:
        return groups
    if reach is Reach.SECTIONS:
        return groups.filter(section__in=account.sections.values("pk"))
    return groups.filter(account=account)


def hand_ins_of(group: Group) -> QuerySet[HandIn]:
    """Newest first, without their records."""
    return group.hand_ins.defer("record").select_related("by", "entered_by")


def members_of(group: Group) -> QuerySet[Person]:
    """Those who are in the group now."""
    return Person.objects.filter(memberships__group=group, memberships__until=None).distinct()


def package_name(hand_in: HandIn) -> str:
    letters = (c if c.isascii() and c.isalnum() else "-" for c in hand_in.group.code)
    return f"group-{''.join(letters)}-version-{hand_in.version}.zip"


@dataclass(frozen=True)
class Names:
    """The names behind the numbers of a record, as they stand now."""

    people: dict[int, str] = field(default_factory=dict)
    accounts: dict[int, str] = field(default_factory=dict)

    def who(self, row: Record) -> str:
        """The person who entered a row where one is named, else the sign-in it came by."""
        person, account = row.get("entered_by_id") or row.get("person_id"), row.get("by_id")
        return self.person(person) if person else self.accounts.get(account or 0, "")

    def person(self, number: int) -> str:
        return self.people.get(number, f"person {number}")


def names_in(record: Record) -> Names:
    numbers: dict[str, set[int]] = {"people": set(), "accounts": set()}
    for kind, number in _numbered(record):
        numbers[kind].add(number)
    return Names(
        {p.pk: p.name for p in Person.objects.filter(pk__in=numbers["people"])},
        {a.pk: str(a) for a in Account.objects.filter(pk__in=numbers["accounts"])},
    )


NUMBERS = {"entered_by_id": "people", "person_id": "people", "person": "people"} | {
    "by_id": "accounts",
    "account": "accounts",
}


def _numbered(part: Any) -> Iterator[tuple[str, int]]:
    """Every number of a person or an account in a record, wherever it stands."""
    if isinstance(part, dict):
        for key, value in part.items():
            if key in NUMBERS and isinstance(value, int):
                yield NUMBERS[key], value
            elif key == "present":
                yield from (("people", number) for number in value)
            elif isinstance(value, dict | list):
                yield from _numbered(value)
    elif isinstance(part, list) and part and isinstance(part[0], dict | list):
        for item in part:
            yield from _numbered(item)


def runs_showing_ours(record: Record, account: Account | None) -> frozenset[int]:
    """The runs of a hand-in whose computed values a reader may see; None stands for staff."""
    numbers = [run["number"] for run in record["runs"]]
    if account is None:
        return frozenset(numbers)
    return frozenset(unlocked(account, Run.objects.filter(pk__in=numbers)))


def changes_between(before: Record, after: Record) -> list[str]:
    """What is otherwise in the later record, run by run, in the words of the sheet."""
    earlier = {run["number"]: run for run in before["runs"]}
    found = []
    for run in after["runs"]:
        old = earlier.get(run["number"])
        changed = ["new"] if old is None else _changes_of_run(old, run)
        if changed:
            found.append(f"{run['title']} (run {run['number']}): {', '.join(changed)}")
    if before["standardizations"] != after["standardizations"]:
        found.append("The standardizations: another state, other runs or another decision")
    return found or ([] if before == after else ["Names of benches, lots or labels"])


def _changes_of_run(old: Record, new: Record) -> list[str]:
    found = [
        FIELDS[key].words.lower() if key in FIELDS else key
        for key in _fields_changed(old["evidence"]["entries"], new["evidence"]["entries"])
    ]
    for words, part in EVIDENCE_WORDS:
        if old["evidence"][part] != new["evidence"][part]:
            found.append(words)
    for words, key in RUN_WORDS:
        if old[key] != new[key]:
            found.append(words)
    if _number_of_result(old) != _number_of_result(new):
        found.append("computed again")
    return found


EVIDENCE_WORDS = (
    ("readings", "readings"),
    ("readings struck out", "strikes"),
    ("who was present", "present"),
    ("checklist", "checks"),
    ("answers to notes", "answers"),
    ("what happened", "happenings"),
)
RUN_WORDS = (
    ("state", "state"),
    ("hand figures", "hand_figures"),
    ("literature value", "literature"),
    ("files", "files"),
    ("the sample was revealed", "is_hidden"),
)


def _fields_changed(old: list[Record], new: list[Record]) -> list[str]:
    known = {entry["pk"] for entry in old}
    return list(dict.fromkeys(entry["field"] for entry in new if entry["pk"] not in known))


def _number_of_result(run: Record) -> int | None:
    return run["result"]["number"] if run["result"] else None
