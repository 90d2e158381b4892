"""What a line of the device says: a value, perhaps with its unit."""

from __future__ import annotations

import re
from dataclasses import dataclass

NUMBER = r"[+\-\u2212]?(?:\d+(?:[.,]\d*)?|[.,]\d+)"
UNITS = {
    "°C": "°C", "degC": "°C", "C": "°C", "℃": "°C",
    "°F": "°F", "degF": "°F", "F": "°F", "K": "K",
}  # fmt: skip
WHOLE_LINE = re.compile(rf"(?P<value>{NUMBER})\s*(?P<unit>[°℃A-Za-z]+)?")
BETWEEN_COLUMNS = re.compile(r"\s*[;\t]\s*|\s*,\s+|\s+")
BETWEEN_WITH_COMMA = re.compile(r"\s*[;\t,]\s*|\s+")


@dataclass(frozen=True)
class Layout:
    """Where the value stands in a line: alone, in a column from 1 on, or where a pattern finds it.

    With a decimal comma only tab, semicolon and spaces part columns.
    """

    unit: str = "°C"
    column: int | None = None
    pattern: re.Pattern[str] | None = None
    decimal_comma: bool = False

    def read(self, line: str) -> tuple[str, str] | None:
        """Value and unit of a line, or None when there is no value in its place."""
        if self.pattern is not None:
            found = self.pattern.search(line)
        else:
            found = WHOLE_LINE.fullmatch(self._place(line))
        if found is None:
            return None
        groups = found.groupdict()
        unit = UNITS.get(groups.get("unit") or self.unit)
        value = groups.get("value")
        if value is None or unit is None:
            return None
        return (value.replace(",", ".") if self.decimal_comma else value), unit

    def _place(self, line: str) -> str:
        if self.column is None:
            return line.strip()
        between = BETWEEN_COLUMNS if self.decimal_comma else BETWEEN_WITH_COMMA
        columns = between.split(line.strip())
        return columns[self.column - 1] if self.column <= len(columns) else ""
