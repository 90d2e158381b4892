"""Which decimal mark a file's numbers have."""

from collections.abc import Sequence

from labbook.intake import numerals
from labbook.intake.answers import Answers
from labbook.intake.columns import Columns
from labbook.intake.report import Option, Question, Refusal
from labbook.intake.table import Table


def choose_mark(columns: Columns, answers: Answers) -> str | Question:
    """The decimal mark of the file, or the question which it is."""
    table, chosen = columns.table, answers.chosen.decimal
    if chosen == "," == table.delimiter and not _quoted_commas(columns):
        raise Refusal(
            "The comma cannot both separate columns and mark decimals. "
            "Export the file again with semicolons or tabs between the columns."
        )
    if chosen:
        return chosen
    numbers = [index for index, kind in enumerate(table.kinds) if kind == "number"]
    cells = [table.column(index) for index in numbers]
    question = _comma_in_two_roles(table, cells)
    if not question:
        hot = [
            place
            for place, index in enumerate(numbers)
            if columns.labels[index].quantity == "temperature"
        ]
        mark = numerals.decimal_mark(cells, hot)
        if mark.refusal:
            raise Refusal(mark.refusal)
        if mark.mark:
            return mark.mark
        question = mark.question or ""
    return answers.recall("decimal") or Question("decimal", question, _mark_options(table))


def _mark_options(table: Table) -> tuple[Option, Option]:
    if table.delimiter != ",":
        return Option(".", "the point marks decimals"), Option(",", "the comma marks decimals")
    shown = " | ".join(table.rows[0].cells)[:60]
    return (
        Option(".", f"the point; commas separate columns: {shown}"),
        Option(",", "the comma; the file must then be exported with other separators"),
    )


def _quoted_commas(columns: Columns) -> bool:
    return any("," in cell for row in columns.table.rows[:100] for cell in row.cells)


def _comma_in_two_roles(table: Table, cells: Sequence[Sequence[str]]) -> str:
    """Commas between whole numbers only: they may be decimal commas, and then nothing fits."""
    if table.delimiter != "," or any("." in cell or "," in cell for row in cells for cell in row):
        return ""
    shown = ",".join(table.rows[0].cells)[:60]
    return (
        f"In “{shown}” a comma may separate columns or mark decimals. Which mark do the "
        "file's numbers have?"
    )
