"""Whether the last row of a file is whole."""

from labbook.intake import numerals
from labbook.intake.table import Table


def ends_doubtfully(table: Table, used: set[int]) -> bool:
    """Whether the last row, in a file without a last line end, may lack its last characters.

    Certain only if another cell follows the ones in use, or if the last cell has as many
    decimals, or the same shape, as every row before.
    """
    if not table.rows:
        return False
    *before, (_, last) = table.rows
    if len(last) - 1 not in used:
        return False
    index = len(last) - 1
    cells = [row.cells[index] for row in before if not numerals.is_missing(row.cells[index])]
    cell = last[index]
    if numerals.is_number(cell) and "e" not in cell.lower() and not cell.isdigit():
        return _decimals(cell) < max(map(_decimals, cells), default=99)
    return not cells or any(_shape(other) != _shape(cell) for other in cells)


def _decimals(cell: str) -> int:
    return len(cell.replace(",", ".").rpartition(".")[2]) if "." in cell or "," in cell else 0


def _shape(cell: str) -> str:
    return "".join("0" if mark.isdigit() else mark for mark in cell)
