"""A term of the course: its sections, groups, people and samples, from first day to last."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from ..actions.samples import reveal_sample
from ..actions.setup import save_setup
from ..models import Account, Group, Membership, Person, Role, Sample, Section, Term, Unlock
from .course_dates import K_IS_AHEAD, SECTIONS, TermDates
from .laboratory import Laboratory


@dataclass
class Team:
    """A group with its sign-in, its members and the TA of its section."""

    group: Group
    account: Account
    members: list[Person]
    assistant: Account


@dataclass
class RunningTerm:
    term: Term
    samples: list[Sample]
    sections: list[list[Team]]


def begin_term(
    laboratory: Laboratory, index: int, dates: TermDates, groups: int, ours_unlock: Unlock
) -> RunningTerm:
    term = Term(
        name=dates.name, starts=dates.starts, ends=dates.ends, method=laboratory.method,
        ours_unlock=ours_unlock,
    )  # fmt: skip
    save_setup(term, by=laboratory.maker)
    samples = _keep_samples(laboratory, term, index)
    meets_on = (dates.middle - K_IS_AHEAD, dates.middle)
    sections = []
    for number, letter in enumerate(SECTIONS):
        section = Section(
            term=term, name=f"Section {letter}", meets=f"{meets_on[number]:%A} afternoons"
        )
        save_setup(section, by=laboratory.maker)
        assistant = laboratory.assistants[(index + number) % len(laboratory.assistants)]
        section.assistants.set([assistant])
        sections.append(
            [
                _gather_team(laboratory, section, 2 * count + number, assistant)
                for count in range(index * groups, (index + 1) * groups)
            ]
        )
    return RunningTerm(term, samples, sections)


def _keep_samples(laboratory: Laboratory, term: Term, index: int) -> list[Sample]:
    """The term's vials, their contents in an order of its own."""
    stock = laboratory.scenario.stock
    most = {row["name"]: row.get("max_charge_g") for row in stock["substances"]}
    contents = stock["samples"]["contents"]
    first = stock["samples"]["first_label"] + index * len(contents)
    samples = [
        Sample(
            term=term,
            label=f"Q{first + number}",
            substance=laboratory.substances[contents[kind]],
            max_charge_g=Decimal(most[contents[kind]]),
            lot=stock["samples"]["lots"][kind],
            difficulty=stock["samples"]["difficulties"][kind],
            reveal_on=term.ends,
        )
        for number, kind in enumerate(laboratory.rng(2, index).permutation(len(contents)))
    ]
    for sample in samples:
        save_setup(sample, by=laboratory.maker)
    return samples


def _gather_team(laboratory: Laboratory, section: Section, number: int, assistant: Account) -> Team:
    """The group of this number, counted over both sections and all terms, with its sign-in."""
    maker, size = laboratory.maker, laboratory.scenario.people["group_size"]
    group = Group(section=section, code=f"{section.name[-1]}{number // 2 + 1}")
    save_setup(group, by=maker)
    account = Account(
        username=group.code.lower(),
        name=f"Group {group.code}",
        role=Role.GROUP,
        group=group,
        password=laboratory.passwords["group"],
    )
    save_setup(account, by=maker)
    members = [
        Person(name=laboratory.scenario.student_name(i), student_number=f"q{70000 + 13 * i}")
        for i in range(number * size, (number + 1) * size)
    ]
    for person in members:
        save_setup(person, by=maker)
        save_setup(Membership(group=group, person=person, since=section.term.starts), by=maker)
    return Team(group, account, members, assistant)


def reveal_samples(laboratory: Laboratory, samples: list[Sample]) -> None:
    for sample in samples:
        reveal_sample(sample, by=laboratory.coordinator)


def end_term(laboratory: Laboratory, running: RunningTerm) -> None:
    """Close the groups' sign-ins and their memberships."""
    for team in (team for section in running.sections for team in section):
        team.account.is_active = False
        save_setup(team.account, by=laboratory.maker)
        for membership in team.group.memberships.filter(until__isnull=True):
            membership.until = running.term.ends
            save_setup(membership, by=laboratory.maker)
