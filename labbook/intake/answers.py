"""What people have settled: for this file, and before for the same layout on the same bench."""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, field

from labbook.intake.report import Choices
from labbook.intake.table import DELIMITER_NAMES, Table


def layout_of(table: Table) -> str:
    """A short fingerprint of a logger's layout: separator, columns, names and units."""
    parts = (table.delimiter, *table.kinds, *table.names, *table.units)
    return hashlib.sha256("\x1f".join(parts).encode()).hexdigest()[:16]


@dataclass
class Answers:
    """Choices for this file, and those remembered from an earlier file of the same layout.

    A remembered column or unit stands in for a new choice. The decimal mark and the order of a
    date are recalled only where the file leaves them open, and a unit only where it gives usual
    temperatures: a memory never overrules what the file shows. In a file of another layout, as
    from a logger set differently, nothing is recalled.
    """

    chosen: Choices
    memory: Choices
    remarks: list[str] = field(default_factory=list)

    @classmethod
    def for_table(cls, table: Table, chosen: Choices, remembered: Iterable[Choices]) -> "Answers":
        """Take up the remembered choices that were made for this layout."""
        layout = layout_of(table)
        return cls(chosen, next((m for m in remembered if m.layout == layout), Choices()))

    def recall(self, name: str) -> str | None:
        """The remembered answer to a question that has arisen, with a remark that it was used."""
        value = self.memory.as_dict().get(name)
        if value is None:
            return None
        words = DELIMITER_NAMES.get(str(value), value) if name == "delimiter" else value
        self.remarks.append(f"{name.replace('_', ' ')}: {words}, as remembered for this bench")
        return str(value)
