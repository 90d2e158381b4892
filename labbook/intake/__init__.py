"""Logger files and typed figures to readings: bytes in, data out, no database."""

from labbook.intake.figures import Ambiguous, Figure, NotANumber, read_figure, read_moment
from labbook.intake.logger_file import preview
from labbook.intake.report import (
    Choices,
    Column,
    LeftOut,
    Option,
    Preview,
    Question,
    Refusal,
)

__all__ = [
    "Ambiguous",
    "Choices",
    "Column",
    "Figure",
    "LeftOut",
    "NotANumber",
    "Option",
    "Preview",
    "Question",
    "Refusal",
    "preview",
    "read_figure",
    "read_moment",
]
