"""Text in tables that a spreadsheet opens: it may start no formula."""

from __future__ import annotations

import re

# What spreadsheets take for the start of a formula, in half and in full width; OWASP, “CSV
# Injection”, names these.
STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?")


def inert(cell: object) -> object:
    """Text a spreadsheet would take for a formula, behind an apostrophe; all else as it is.

    A number typed with its sign stays a number.
    """
    if isinstance(cell, str) and cell.startswith(STARTS_A_FORMULA) and not NUMBER.fullmatch(cell):
        return f"'{cell}"
    return cell
