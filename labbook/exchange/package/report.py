"""Ready for a report: the results as a table, rounded by their uncertainty, in three forms.

The numbers and their captions are here; the sentences of a report are its writers'.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from django.template.loader import render_to_string

from ...typesetting.numbers import Figures, figures, set_decimal
from ...typesetting.symbols import symbol
from ..results import results_in
from .delivery import DeliveredRun, Delivery
from .tables import as_csv

EXPANDED, STANDARD = "expanded, 95 %", "standard"
WITHOUT_U = 4
LATEX = {
    "C": "C", "dc_u": r"\Delta_\mathrm{c}u", "dc_U": r"\Delta_\mathrm{c}U",
    "dc_H": r"\Delta_\mathrm{c}H", "df_H": r"\Delta_\mathrm{f}H", "dT": r"\Delta T",
}  # fmt: skip


@dataclass(frozen=True)
class Row:
    run: DeliveredRun
    symbol: str
    words: str
    rounded: Figures
    u_words: str
    unit: str

    @property
    def value(self) -> Decimal:
        return self.rounded.value.scaleb(self.rounded.power)

    @property
    def u(self) -> Decimal | None:
        return None if self.rounded.u is None else self.rounded.u.scaleb(self.rounded.power)

    @property
    def letters(self) -> str:
        known = symbol(self.symbol)
        return f"{known.before}{known.before_index}{known.letter}"

    @property
    def set(self) -> str:
        spread = "" if self.u is None else f" ± {set_decimal(self.u)}"
        return f"{set_decimal(self.value)}{spread} {self.unit}"


def rows_of(delivery: Delivery) -> list[Row]:
    return [row for run in delivery.runs for row in _rows_of_run(run)]


def _rows_of_run(run: DeliveredRun) -> Iterator[Row]:
    rise = run.outputs.get("rise_used") or {}
    if rise.get("rise_k") is not None:
        words = "corrected temperature rise"
        yield _row(run, "dT", words, rise["rise_k"], rise.get("u_k"), STANDARD, "K")
    for found in results_in(run.outputs):
        name, words, value, u, unit = found
        yield _row(run, name, words, value, u, EXPANDED, unit)


def _row(
    run: DeliveredRun,
    name: str,
    words: str,
    value: float,
    u: float | None,
    u_words: str,
    unit: str,
) -> Row:
    rounded = figures(value, u, None if u else WITHOUT_U)
    assert rounded is not None  # a result is a finite number
    return Row(run, name, words, rounded, u_words if rounded.u is not None else "", unit)


def results_csv(delivery: Delivery) -> bytes:
    columns = ("run", "quantity", "symbol", "value", "uncertainty", "which", "unit")
    return as_csv(
        columns,
        (
            (row.run.title, row.words, row.letters, row.value, row.u, row.u_words, row.unit)
            for row in rows_of(delivery)
        ),
    )


def results_html(delivery: Delivery) -> bytes:
    context = {"rows": rows_of(delivery), "caption": TABLE_CAPTION}
    return render_to_string("handing_in/package/results.html", context).encode()


def results_latex(delivery: Delivery) -> bytes:
    lines = [_latex_row(row) for row in rows_of(delivery)]
    caption = TABLE_CAPTION.removeprefix("Table …. ").replace("%", r"\%").replace("±", r"$\pm$")
    body = "\n".join(lines)
    return (
        "\\begin{table}\n\\caption{" + caption + "}\n\\begin{tabular}{lllrl}\n\\hline\n"
        "Run & Quantity & & Value & Unit\\\\\n\\hline\n"
        f"{body}\n\\hline\n\\end{{tabular}}\n\\end{{table}}\n"
    ).encode()


def _latex_row(row: Row) -> str:
    spread = "" if row.u is None else rf" \pm {row.u:f}"
    unit = row.unit.replace("%", r"\%")
    title = "".join(rf"\{c}" if c in "#$%&_{}" else c for c in row.run.title)
    cells = (title, row.words, f"${LATEX[row.symbol]}$", f"${row.value:f}{spread}$", unit)
    return " & ".join(cells) + r"\\"


TABLE_CAPTION = (
    "Table …. Results of the runs. Values are rounded by their uncertainty: for the corrected rise "
    "± the standard uncertainty, for all others ± the expanded uncertainty (95 %)."
)


def captions(delivery: Delivery) -> bytes:
    """A caption for the table and each figure; “…” is the number it gets in the report."""
    lines = [TABLE_CAPTION]
    for run in delivery.runs:
        if run.record["evidence"]["readings"]:
            lines.append(f"run-{run.number}/thermogram: {thermogram_caption(run)}")
    return ("\n\n".join(lines) + "\n").encode()


def thermogram_caption(run: DeliveredRun) -> str:
    count = len(run.record["inputs"]["readings"]["time_s"])
    drawn = f"{count} readings" + (
        ", with the lines of the fore and the after period drawn on to the crossing"
        if run.outputs
        else ""
    )
    bench = run.record["bench"]
    return f"Figure …. Temperature against time, {run.record['title']} on bench {bench}; {drawn}."
