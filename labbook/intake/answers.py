"""What people have settled: for this file, and before for the same layout on the same bench."""

import hashlib
from dataclasses import dataclass, field

from labbook.intake.report import Choices
from labbook.intake.table import Table


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
    def for_table(cls, table: Table, chosen: Choices, remembered: Choices | None) -> "Answers":
        """Take up the remembered choices if they were made for this layout."""
        same = remembered is not None and remembered.layout == layout_of(table)
        return cls(chosen, remembered if remembered and same else Choices())

    def recall(self, name: str) -> str | None:
        """The remembered answer to a question that has arisen, with a remark that it was used."""
        value = self.memory.as_dict().get(name)
        if value is None:
            return None
        self.remarks.append(f"{name.replace('_', ' ')}: {value}, as remembered for this bench")
        return str(value)
