"""What stands against a label, an issue, an unknown's vial, and words that tell what is in it."""

from __future__ import annotations

import re
import unicodedata

from reduction.combustion import molar_mass

from ..access import may
from ..lookups.samples import issue_of
from ..models import Account, Group, Sample, SampleIssue, Substance
from .refusals import Problem

SHORTEST_HINT = 3


def with_label(sample: Sample) -> list[Problem]:
    """A label tells nothing: no piece of the name, no formula, no molar mass, no lot."""
    problems = []
    if told := label_tells(sample.label, sample.substance, sample.lot):
        sentence = (
            f"The label “{sample.label}” tells {told} of what is in the vial. Choose another."
        )
        problems.append(Problem("label", "B", sentence, "label"))
    same = Sample.objects.filter(
        label__iexact=sample.label, substance=sample.substance, revealed_at__isnull=False
    )
    if before := same.exclude(pk=sample.pk).exclude(term=sample.term_id).first():
        sentence = (
            f"“{sample.label}” held the same substance in {before.term}, where it was revealed. "
            "Choose another label."
        )
        problems.append(Problem("label", "B", sentence, "label"))
    return problems


def label_tells(label: str, substance: Substance, lot: str = "") -> str:
    """What a label gives away, in words; empty for one that gives nothing away."""
    letters, written, name = _letters(label), _plain(label), substance.name.casefold()
    words = re.findall(r"[a-z]+", name)
    if _plain(substance.formula) in written:
        return "the formula"
    for run in letters:
        if any(word.startswith(run) for word in words if len(run) > 1) or (
            len(run) >= SHORTEST_HINT and run in name
        ):
            return "part of the name"
    if str(round(molar_mass(substance.formula))) in re.findall(r"\d+", written):
        return "the molar mass"
    return "the lot" if lot and _plain(lot) in written else ""


def _letters(text: str) -> list[str]:
    return re.findall(r"[a-z]+", unicodedata.normalize("NFKC", text).casefold())


def _plain(text: str) -> str:
    """Letters and figures alone, subscripts as figures, so that C₁₀H₈ and c10-h8 are one."""
    return "".join(filter(str.isalnum, unicodedata.normalize("NFKC", text).casefold()))


def with_issuing(
    sample: Sample, group: Group, standing: SampleIssue | None, reason: str
) -> list[Problem]:
    """What stands against giving this sample to this group now."""
    problems = []
    if sample.term_id != group.section.term_id:
        sentence = f"Sample {sample} does not belong to the term of group {group}."
        problems.append(Problem("sample", "B", sentence, "sample"))
    if not sample.is_hidden:
        sentence = f"Sample {sample} is revealed, so it is no unknown any more. Give another."
        problems.append(Problem("sample", "B", sentence, "sample"))
    if standing is not None and not reason.strip():
        sentence = f"Group {group} holds {standing.sample}. Say why it is given {sample} instead."
        problems.append(Problem("reason", "B", sentence, "reason"))
    return problems


def with_vial(sample: Sample, group: Group) -> list[Problem]:
    """A group burns the sample it was given, and no other."""
    if sample.term_id != group.section.term_id:
        sentence = f"Sample {sample} does not belong to this term."
        return [Problem("sample", "B", sentence, "sample")]
    issue = issue_of(group)
    if issue is not None and issue.sample_id == sample.pk:
        return []
    return [not_yours(group, issue)]


def not_yours(group: Group, issue: SampleIssue | None) -> Problem:
    """The same sentence whether the label sent is another group's or nobody's."""
    if issue is None:
        sentence = f"No sample is issued to group {group} yet. Ask your TA for your vial."
    else:
        sentence = (
            f"This is not the sample issued to group {group}: yours is {issue.sample}. "
            "If your vial bears another label, do not burn it; ask your TA."
        )
    return Problem("sample", "B", sentence, "sample")


def with_words(group: Group, words: str, by: Account) -> list[Problem]:
    """Staff know what is in the vials; what they write for a group must not say it.

    A group's own words are never looked at: the refusal would tell whether it guessed right.
    """
    if not words.strip() or not may(by, "see sample identity"):
        return []
    given = Sample.objects.filter(issues__group=group, revealed_at__isnull=True)
    for sample in given.select_related("substance").distinct():
        if words_tell(words, sample.substance):
            sentence = f"These words tell what is in {sample}, which is still hidden. Leave it out."
            return [Problem("identity", "B", sentence)]
    return []


def words_tell(words: str, substance: Substance) -> bool:
    if substance.name.casefold() in unicodedata.normalize("NFKC", words).casefold():
        return True
    pieces = re.split(r"[\s,;:.“”\"'()–-]+", unicodedata.normalize("NFKC", words).casefold())
    return _plain(substance.formula) in pieces
