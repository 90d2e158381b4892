"""What the look for likeness found, in words: what was seen, how rare, and innocent reasons."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst

from reduction.likeness.evenness import LineEven
from reduction.likeness.last_digits import DigitsUneven
from reduction.likeness.masses import MassesAlike, numbers_of
from reduction.likeness.series import SeriesAlike

from ..lookups.likeness import Found, OutOfHours, SameFile, TypedAtOnce
from ..plots.laid_together import laid_together
from ..plots.theme import Figure, shown

KINDS = {
    "charge": "its weighings of crucible and pellet",
    "bucket": "its weighings of bucket and water",
    "readings": "the readings it typed",
}
ANOTHER = "a group of another section"
NO_CHANCE = "No question of chance: the times stand as the record has them."


@dataclass(frozen=True)
class Named:
    """A run as this reader may know it; without an address where it is out of reach."""

    words: str
    url: str = ""


@dataclass(frozen=True)
class Mention:
    """One thing worth a look. ``reasons`` are ordinary ways for it to come about."""

    heading: str
    seen: str
    by_chance: str
    reasons: str
    runs: list[Named] = field(default_factory=list)
    figure: Figure | None = None
    id: str = ""
    table: list[tuple[str, Any]] = field(default_factory=list)


def mentions_of(found: Found) -> list[Mention]:
    return [
        *(_file(found, one) for one in found.files),
        *(_series(found, one) for one in found.series),
        *(_masses(found, one) for one in found.masses),
        *_digits(found),
        *(_line(found, one) for one in found.lines),
        *_replicates(found),
        *(_at_once(found, one) for one in found.at_once),
        *(_out_of_hours(found, one) for one in found.out_of_hours),
    ]


def rarity(found: Found) -> str:
    """How many charges agree in the term by chance alone, so that one pair says nothing."""
    if found.charges < 2:
        return ""
    by_chance = shown(found.agreeing_by_chance, 1)
    return (
        f"Of {found.charges} charges, {found.agreeing} pairs of different groups agree to the last "
        f"digit; chance alone gives about {by_chance}."
    )


def _group(found: Found, pk: int) -> str:
    return f"group {found.groups[pk].code}" if found.sees(pk) else ANOTHER


def _run(found: Found, pk: int) -> Named:
    run = found.run(pk)
    if not found.sees(run.group):
        return Named(f"a run of {ANOTHER}")
    words = f"{_group(found, run.group)}, {run.kind} {run.replicate}"
    return Named(words, reverse("run_readings", kwargs={"pk": pk}))


def _expected(number: float, what: str) -> str:
    if number < 1e-6:
        return f"By chance in fewer than one of a million terms there are {what} so alike."
    return (
        f"By chance in about one of {round(1 / number):,} terms there are {what} so alike.".replace(
            ",", "\u202f"
        )
    )


def _file(found: Found, one: SameFile) -> Mention:
    name = next(name for pk, name in one.names.items() if found.sees(found.run(pk).group))
    seen = f"“{name}” was handed in, byte for byte, for {len(one.runs)} runs of this term"
    seen += f" and {one.elsewhere} of other terms." if one.elsewhere else "."
    return Mention(
        "The same file", seen,
        "Chance does not make two files alike.",
        "The wrong file was picked from a shared PC; a group took it over for another; the bench’s "
        "logger wrote over its last file.",
        [_run(found, pk) for pk in one.runs],
    )  # fmt: skip


def _series(found: Found, one: SeriesAlike) -> Mention:
    first, second = (found.readings(pk) for pk in one.runs)
    seen = (
        f"{one.readings} readings lie on each other, {shown(100 * one.share, 0)} % of the telling "
        f"steps agree"
    )
    if one.correlation is not None:
        seen += f", the scatter about the curve goes together ({shown(one.correlation, 2)} of 1)"
    seen += f"; shifted by {abs(one.shift)} readings and {shown(1000 * abs(one.offset_k), 1)} mK."
    figure = laid_together(
        (first.time_s, first.temperature_c), (second.time_s, second.temperature_c),
        one.shift, one.offset_k,
    )  # fmt: skip
    return Mention(
        "Readings alike", seen, _expected(one.expected, "two series"),
        "One logger served two benches; one file was handed in for two runs by mistake; a group "
        "whose logger failed was given another’s readings by its TA.",
        [_run(found, pk) for pk in one.runs], figure, f"laid-{one.runs[0]}-{one.runs[1]}",
    )  # fmt: skip


def _masses(found: Found, one: MassesAlike) -> Mention:
    pairs = one.both or one.charges
    same = "crucible and charge" if one.both else "charge"
    seen = (
        f"{capfirst(' and '.join(_group(found, pk) for pk in one.groups))} have {len(pairs)} "
        f"pair{'s' if len(pairs) > 1 else ''} of runs with the same {same} to the last digit; "
        f"{shown(one.by_chance, 2)} equal charges were to be expected."
    )
    table = [
        (f"{mine.gross} g − {mine.tare} g", f"{theirs.gross} g − {theirs.tare} g")
        for mine, theirs in pairs
    ]
    return Mention(
        "Masses alike", seen, _expected(one.expected, "two groups’ masses"),
        "The TA weighed the charges for both; the groups shared a balance list and read a wrong "
        "line; a pellet was handed on.",
        [_run(found, pk) for pk in dict.fromkeys(numbers_of(pairs))], table=table,
    )  # fmt: skip


def _digits(found: Found) -> Iterator[Mention]:
    for one in found.digits:
        yield Mention(
            "Last digits uneven",
            f"In {KINDS[one.kind]}, {_group(found, one.group)} has {_digits_seen(one)}",
            _expected(one.expected, "last digits of one group"),
            "The balance reads in steps of two or five; readings are rounded while they are "
            "written down; a figure was read from a scale with coarse marks.",
            [],
        )


def _digits_seen(one: DigitsUneven) -> str:
    if one.is_about_repeats:
        usual = shown(one.repeats_expected, 0)
        return f"{one.repeats} last digits that repeat the one before; about {usual} were expected."
    counts = ", ".join(f"{digit} ({count})" for digit, count in enumerate(one.counts))
    return f"these last digits, with how often: {counts}."


def _line(found: Found, one: LineEven) -> Mention:
    usual = "rounding alone leaves" if one.is_rounding else "runs of this bench leave"
    line = one.line
    seen = (
        f"The {line.period} line leaves {shown(1000 * line.residual_sd_k, 2)} mK of its "
        f"{line.count} readings; {usual} {shown(1000 * one.usual_k, 2)} mK."
    )
    return Mention(
        "Scatter too small", seen, _expected(one.expected, "lines"),
        "The logger averages or smooths its readings; its resolution was set coarser; the stirrer "
        "ran more evenly after a service.",
        [_run(found, line.run)],
    )  # fmt: skip


def _replicates(found: Found) -> Iterator[Mention]:
    for one in found.replicates:
        values = ", ".join(shown(value, 1) for value in one.replicates.values)
        yield Mention(
            "Replicates closer than usual",
            f"{capfirst(_group(found, one.replicates.group))} found {values} J/K: a standard "
            f"deviation of {shown(one.sd, 2)} J/K where {shown(one.usual_sd, 1)} J/K is usual.",
            _expected(one.expected, "replicates"),
            "A careful group; one run’s figures entered for another by mistake; uncertainties of "
            "the method set too wide.",
            [
                _run(found, pk)
                for pk, run in found.records.runs.items()
                if run.standardization == one.replicates.standardization
            ],
        )


def _at_once(found: Found, one: TypedAtOnce) -> Mention:
    return Mention(
        "Typed at once",
        f"{one.count} readings that span {shown(one.span_s / 60, 0)} min were typed within "
        f"{shown(one.typed_s / 60, 1)} min.",
        NO_CHANCE,
        "They were written on paper first, the PC was busy, or the screen’s connection was lost.",
        [_run(found, one.run)],
    )


def _out_of_hours(found: Found, one: OutOfHours) -> Mention:
    at = timezone.localtime(one.at)
    seen = f"Opened on {at:%-d %B %Y} at {at:%H:%M}, when no other group of its section worked."
    if one.others is not None:
        first, last = (timezone.localtime(moment) for moment in one.others)
        seen += f" That day the others were at it from {first:%H:%M} to {last:%H:%M}."
    return Mention(
        "Outside the section’s hours", seen, NO_CHANCE,
        "An afternoon made up for; a run opened ahead or entered afterwards with the TA’s leave; "
        "a clock set wrong.",
        [_run(found, one.run)],
    )  # fmt: skip
