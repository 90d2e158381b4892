"""A logger file's bytes to readings: found, asked about or refused, never guessed in silence."""

import hashlib
from collections.abc import Sequence

from labbook.intake.answers import Answers, layout_of
from labbook.intake.decoding import Text, decode
from labbook.intake.finding import Finding
from labbook.intake.report import Choices, Preview, Refusal
from labbook.intake.table import Table, first_rows, lines_of, read_table

NO_CHOICES = Choices()
OF_THE_TABLE = ("encoding", "delimiter")


def preview(
    data: bytes, *, choices: Choices = NO_CHOICES, remembered: Sequence[Choices] = ()
) -> Preview:
    """Understand a logger file. Questions that are open leave it without readings.

    `choices` overrule what is found; `remembered` (each from `Preview.to_remember`) stand in for
    them in a file of the same layout, see `Answers`. Raises `Refusal` and nothing else.
    """
    decoded, table = _as_remembered(data, choices, remembered) or _table(data, choices)
    answers = Answers.for_table(table, choices, remembered)
    for name in OF_THE_TABLE:
        if getattr(choices, name) is None:
            answers.recall(name)
    shown = first_rows(lines_of(decoded.text), 8)
    finding = Finding(table, answers)
    try:
        found = finding.understand()
    except Refusal as refusal:
        raise Refusal(
            refusal.sentence, shown[:5], finding.columns.described(), layout_of(table)
        ) from None
    return Preview(
        encoding=decoded.encoding,
        delimiter=table.delimiter,
        sha256=hashlib.sha256(data).hexdigest(),
        layout=layout_of(table),
        first_rows=shown,
        remarks=tuple(answers.remarks),
        **found,
    )


def _table(data: bytes, choices: Choices) -> tuple[Text, Table]:
    decoded = decode(data, choices.encoding)
    try:
        return decoded, read_table(decoded.text, choices.delimiter)
    except Refusal as refusal:
        shown = refusal.first_rows or first_rows(lines_of(decoded.text), 5)
        raise Refusal(refusal.sentence, shown) from None


def _as_remembered(
    data: bytes, choices: Choices, remembered: Sequence[Choices]
) -> tuple[Text, Table] | None:
    """The table as a remembered encoding and separator give it, if its layout is theirs too."""
    for memory in remembered:
        if all(getattr(memory, name) is None for name in OF_THE_TABLE):
            continue
        if any(getattr(choices, name) is not None for name in OF_THE_TABLE):
            continue
        try:
            decoded, table = _table(data, memory)
        except Refusal:
            continue
        if layout_of(table) == memory.layout:
            return decoded, table
    return None
