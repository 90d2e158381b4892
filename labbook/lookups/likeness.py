"""What in a term is more alike, more even or entered otherwise than usual: worth a look, no more.

Nothing of it is kept, sent or shown to students, and no person is scored. A TA sees what concerns
a run of the own sections; a run of another section is named as that and nothing else.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.utils import timezone

from reduction.likeness.evenness import LineEven, ReplicatesClose, close_replicates, even_lines
from reduction.likeness.last_digits import DigitsUneven, uneven_digits
from reduction.likeness.masses import MassesAlike, alike_masses, coincidences
from reduction.likeness.series import Series, SeriesAlike, alike_series

from ..access import Reach, reach_of, require
from ..models import Account, Group, LoggerFile, Section, Term
from .term_records import RunFacts, TermRecords

FEWEST_TYPED = 20
PACE = 0.25
"""Typed within less of the time that the readings span: not typed as they were read."""
BEYOND = timedelta(hours=2)
"""Farther than this from when the other groups of a section worked that day."""
FEWEST_GROUPS_OF_SECTION = 3


@dataclass(frozen=True)
class SameFile:
    """One file, byte for byte, handed in for several runs, by run the name it was given there.

    ``elsewhere`` counts other terms' runs.
    """

    names: dict[int, str]
    elsewhere: int

    @property
    def runs(self) -> list[int]:
        return list(self.names)


@dataclass(frozen=True)
class TypedAtOnce:
    """Readings typed in far less time than they span [s]."""

    run: int
    count: int
    typed_s: float
    span_s: float


@dataclass(frozen=True)
class OutOfHours:
    """A run opened when no other group of its section was at a bench."""

    run: int
    at: datetime
    others: tuple[datetime, datetime] | None


@dataclass
class Found:
    """What is worth a look, detector by detector, and what the page needs to tell it."""

    records: TermRecords
    groups: dict[int, Group]
    sections: set[int] | None
    masses: list[MassesAlike] = field(default_factory=list)
    series: list[SeriesAlike] = field(default_factory=list)
    digits: list[DigitsUneven] = field(default_factory=list)
    lines: list[LineEven] = field(default_factory=list)
    replicates: list[ReplicatesClose] = field(default_factory=list)
    files: list[SameFile] = field(default_factory=list)
    at_once: list[TypedAtOnce] = field(default_factory=list)
    out_of_hours: list[OutOfHours] = field(default_factory=list)
    charges: int = 0
    agreeing: int = 0
    agreeing_by_chance: float = 0.0

    @property
    def count(self) -> int:
        return sum(
            len(each)
            for each in (
                self.masses, self.series, self.digits, self.lines, self.replicates, self.files,
                self.at_once, self.out_of_hours,
            )
        )  # fmt: skip

    def sees(self, group: int) -> bool:
        return self.sections is None or self.groups[group].section_id in self.sections

    def run(self, pk: int) -> RunFacts:
        return self.records.runs[pk]

    def readings(self, pk: int) -> Series:
        return self.records.series[pk]


def look_for_likeness(term: Term, account: Account) -> Found:
    """Every detector over the whole term, then kept to what concerns the account's sections."""
    require(account, "look for likeness")
    records = TermRecords(term)
    groups = Group.objects.filter(section__term=term).select_related("section", "bench")
    found = Found(records, {group.pk: group for group in groups}, _sections(account))
    weighings = records.weighings()
    found.charges = len(weighings)
    found.agreeing, found.agreeing_by_chance = coincidences(weighings)
    found.masses = [one for one in alike_masses(weighings) if any(map(found.sees, one.groups))]
    of_runs = alike_series(list(records.series.values()))
    found.series = [one for one in of_runs if _concerns(found, one.runs)]
    found.digits = [one for one in uneven_digits(records.digits()) if found.sees(one.group)]
    found.lines = [one for one in even_lines(records.lines()) if _concerns(found, [one.line.run])]
    close = close_replicates(records.replicates())
    found.replicates = [one for one in close if found.sees(one.replicates.group)]
    found.files = [one for one in _same_files(records) if _concerns(found, one.runs)]
    found.at_once = [one for one in _at_once(records) if _concerns(found, [one.run])]
    found.out_of_hours = [one for one in _out_of_hours(records) if _concerns(found, [one.run])]
    return found


def _sections(account: Account) -> set[int] | None:
    """The sections an account looks after; None for all there are."""
    if reach_of(account, "look for likeness") is Reach.ALL:
        return None
    return set(Section.objects.filter(assistants=account).values_list("pk", flat=True))


def _concerns(found: Found, runs: Iterable[int]) -> bool:
    return any(found.sees(found.run(pk).group) for pk in runs)


def _same_files(records: TermRecords) -> Iterator[SameFile]:
    """Files with one checksum handed in for two runs or more, in this term or any before."""
    own = LoggerFile.objects.filter(run__in=list(records.runs))
    everywhere = LoggerFile.objects.filter(sha256__in=own.values("sha256"))
    runs: dict[str, dict[int, str]] = defaultdict(dict)
    for sha256, run, name in everywhere.order_by("pk").values_list("sha256", "run_id", "name"):
        runs[sha256].setdefault(run, name)
    for handed_in in runs.values():
        here = {run: name for run, name in handed_in.items() if run in records.runs}
        if len(handed_in) > 1 and here:
            yield SameFile(here, len(handed_in) - len(here))


def _at_once(records: TermRecords) -> Iterator[TypedAtOnce]:
    """A reading that waited in the page counts from when it was typed."""
    for run, details in records.typed.items():
        moments = [
            datetime.fromisoformat(one.get("typed_at") or one["at"])
            for one in details
            if one.get("at")
        ]
        times, _ = records.readings.get(run, ([], []))
        if len(moments) < FEWEST_TYPED or len(times) < 2:
            continue
        typed_s = (max(moments) - min(moments)).total_seconds()
        span_s = float(times[-1] - times[0])
        if typed_s < PACE * span_s:
            yield TypedAtOnce(run, len(moments), typed_s, span_s)


def _out_of_hours(records: TermRecords) -> Iterator[OutOfHours]:
    """The section's own days are its hours: no timetable is kept."""
    sections = Counter(
        section for section, _ in {(r.section, r.group) for r in records.runs.values()}
    )
    on_day: dict[tuple[int, date], list[RunFacts]] = defaultdict(list)
    for run in records.runs.values():
        on_day[run.section, timezone.localdate(run.opened_at)].append(run)
    for run in records.runs.values():
        if sections[run.section] < FEWEST_GROUPS_OF_SECTION:
            continue
        together = on_day[run.section, timezone.localdate(run.opened_at)]
        others = [other for other in together if other.group != run.group]
        if not others:
            yield OutOfHours(run.pk, run.opened_at, None)
            continue
        first = min(other.opened_at for other in others)
        last = max(other.completed_at or other.opened_at for other in others)
        if not first - BEYOND <= run.opened_at <= last + BEYOND:
            yield OutOfHours(run.pk, run.opened_at, (first, last))
