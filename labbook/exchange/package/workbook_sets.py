"""A sheet for each standardization: mean, spread and interval from the sheets of its runs."""

from __future__ import annotations

from openpyxl import Workbook
from openpyxl.styles import Font

from .delivery import Delivery

BOLD = Font(bold=True)


def write_sets(book: Workbook, delivery: Delivery, cells: dict[int, str]) -> None:
    """``cells`` are those of the heat capacities, by the number of the run."""
    for found in delivery.record["standardizations"]:
        counted = found["counted"]
        if counted and all(number in cells for number in counted):
            _write_set(book, found["number"], [(n, cells[n]) for n in counted])


def _write_set(book: Workbook, number: int, runs: list[tuple[int, str]]) -> None:
    sheet = book.create_sheet(f"Standardization {number}")
    sheet.append([f"Standardization {number}: heat capacity at the nominal water"])
    sheet.append(["Run", "Value", "Unit", "Formula"])
    for run, cell in runs:
        sheet.append([f"Run {run}", f"={cell}", "J/K", "from the sheet of the run"])
    first, last = 3, 2 + len(runs)
    values = f"B{first}:B{last}"
    n, mean, s, t, half = (f"B{last + 1 + place}" for place in range(1, 6))
    sheet.append([])
    lines = [("Number of runs n", f"=COUNT({values})", "", "count")]
    lines.append(("Mean", f"=AVERAGE({values})", "J/K", "mean"))
    if len(runs) > 1:
        lines += [
            ("Standard deviation s", f"=STDEV({values})", "J/K", "with n - 1"),
            ("Student’s t, 95 %", f"=TINV(0.05,{n}-1)", "", "two-sided, n - 1 degrees"),
            ("Half width of the interval", f"={t}*{s}/SQRT({n})", "J/K", "t s / sqrt(n)"),
            ("Interval from", f"={mean}-{half}", "J/K", "mean less half width"),
            ("Interval to", f"={mean}+{half}", "J/K", "mean and half width"),
        ]
    for line in lines:
        sheet.append(line)
    for row in (1, 2):
        for cell in sheet[row]:
            cell.font = BOLD
    for letter, width in zip("ABCD", (30, 20, 10, 30), strict=True):
        sheet.column_dimensions[letter].width = width
