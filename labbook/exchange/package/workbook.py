"""The energy balances as a spreadsheet (ISO/IEC 29500): inputs as values, results as formulas.

Each run has a sheet of its own, made from its working: change a mass, a titre or a constant and
everything that rests on it follows. There are no macros, and no text is taken for a formula.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from io import BytesIO

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.worksheet.worksheet import Worksheet

from reduction.working import Step
from reduction.working.expressions import Symbol, symbols_in

from ...intake.figures import read_figure
from ...typesetting.cells import inert
from ...typesetting.formulas import plain
from ...typesetting.spreadsheet import spreadsheet_formula
from ...typesetting.working_symbols import working_symbol
from .archive import undated
from .delivery import DeliveredRun, Delivery
from .workbook_sets import write_sets

COLUMNS = ("Quantity", "Symbol", "Value", "Unit", "Formula", "Source")
WIDTHS = (46, 16, 20, 12, 44, 60)
VALUE = "C"
# A quantity weighed or measured as a difference, and the two fields of the sheet it is from.
DIFFERENCES = {
    "m": ("charge_gross_g", "charge_tare_g"),
    "m_bucket": ("bucket_gross_g", "bucket_tare_g"),
    "l_fuse": ("fuse_before", "fuse_left"),
    "m_fuse": ("fuse_before", "fuse_left"),
}
# When the workbook was written, which is no part of what was handed in.
MOMENT = re.compile(rb"<dcterms:(created|modified)[^>]*>[^<]*</dcterms:\1>")
BOLD = Font(bold=True)


def energy_balances(delivery: Delivery) -> bytes | None:
    """None where no run has a result that may be shown."""
    book = Workbook()
    book.remove(book.active)
    found: dict[int, str] = {}
    for run in delivery.runs:
        if run.steps:
            found[run.number] = SheetOfRun(book.create_sheet(f"Run {run.number}"), run).write()
    if not found:
        return None
    write_sets(book, delivery, found)
    written = BytesIO()
    book.save(written)
    return undated(written.getvalue(), delivery.hand_in.at, MOMENT)


class SheetOfRun:
    """A run's working going down a sheet; ``cells`` says where each quantity stands."""

    def __init__(self, sheet: Worksheet, run: DeliveredRun) -> None:
        self.sheet = sheet
        self.run = run
        self.cells: dict[str, str] = {}
        self.row = 0

    def write(self) -> str:
        """The cell of the heat capacity at the nominal water, by which runs are compared."""
        self._line(self.run.title, font=BOLD)
        self._line("Values without a formula were put in; all others follow from them.")
        self._line(*COLUMNS, font=BOLD)
        for title, steps in self.run.steps.items():
            self._line()
            self._line(title, font=BOLD)
            for step in steps:
                self._write_step(step)
        for letter, width in zip("ABCDEF", WIDTHS, strict=True):
            self.sheet.column_dimensions[letter].width = width
        self.sheet.freeze_panes = "A4"
        name = self.sheet.title.replace("'", "''")
        return f"'{name}'!{self.cells.get('C_nom') or self.cells.get('C', VALUE + '1')}"

    def _write_step(self, step: Step) -> None:
        sources = {source.symbol.key: source.words for source in step.sources}
        if step.expression is None:
            self._put_in(step.symbol, step.title, step.remark)
            return
        for symbol in symbols_in(step.expression):
            if symbol.key not in self.cells:
                self._write_input(symbol, sources.get(symbol.key, ""))
        formula = spreadsheet_formula(step.expression, self._cell_of)
        words = f"{step.key} = {plain(step.expression, numbers=False)}"
        self._quantity(step.symbol, step.title, f"={formula}", words, "")

    def _cell_of(self, symbol: Symbol) -> str:
        return self.cells[symbol.key]

    def _write_input(self, symbol: Symbol, source: str) -> None:
        """A value put in; one weighed as a difference with the two figures it is from."""
        weighed = list(self._weighed(symbol))
        words = working_words(symbol.key)
        if not weighed:
            self._put_in(symbol, words, source)
            return
        cells = []
        for label, value in weighed:
            self._line(label, "", value, symbol.unit, "", "run sheet")
            cells.append(f"{VALUE}{self.row}")
        self._quantity(symbol, words, f"={cells[0]}-{cells[1]}", "", source)

    def _weighed(self, symbol: Symbol) -> Iterator[tuple[str, float]]:
        words = {f["key"]: f["words"] for _, part in self.run.record["parts"] for f in part}
        texts = [(key, self.run.text(key)) for key in DIFFERENCES.get(symbol.key, ())]
        if not texts or not all(text for _, text in texts):
            return
        first, second = (read_figure(text).value for _, text in texts)
        if float(first - second) == symbol.value:
            for (key, _), value in zip(texts, (first, second), strict=True):
                yield words[key], float(value)

    def _put_in(self, symbol: Symbol, words: str, source: str) -> None:
        self._quantity(symbol, words, float(symbol.full), "", source)

    def _quantity(
        self, symbol: Symbol, words: str, value: object, formula: str, source: str
    ) -> None:
        self._line(words, letters(symbol.key), value, symbol.unit, formula, source)
        self.cells[symbol.key] = f"{VALUE}{self.row}"
        if symbol.decimals is not None:
            places = "0" * max(symbol.decimals, 0)
            self.sheet[self.cells[symbol.key]].number_format = f"0.{places}" if places else "0"

    def _line(self, *values: object, font: Font | None = None) -> None:
        self.row += 1
        for column, value in enumerate(values, start=1):
            cell = self.sheet.cell(self.row, column)
            cell.value = value if column == 3 else inert(value)
            cell.alignment = Alignment(wrap_text=self.row > 3 and column > 4, vertical="top")
            if font is not None:
                cell.font = font


def working_words(key: str) -> str:
    """A sum over readings has no name of its own in the working."""
    if key.startswith("sum_"):
        return "sum over the readings"
    words = working_symbol(key).words
    return words[:1].upper() + words[1:]


def letters(key: str) -> str:
    if key.startswith("sum_"):
        return key
    known = working_symbol(key)
    index = f"_{known.index}" if known.index else ""
    return f"{known.before}{known.before_index}{known.letter}{index}"
