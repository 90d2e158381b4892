"""The two sizes of paper a laboratory prints on."""

from __future__ import annotations

from dataclasses import dataclass

from django.conf import settings


@dataclass(frozen=True)
class Paper:
    """A sheet, upright; ``grid`` is what squared paper has room for when it lies on its side."""

    key: str
    words: str
    width_mm: float
    height_mm: float
    grid: tuple[int, int]


A4 = Paper("a4", "A4", 210.0, 297.0, (250, 150))
LETTER = Paper("letter", "Letter", 215.9, 279.4, (230, 150))
PAPERS = {paper.key: paper for paper in (A4, LETTER)}


def paper_named(name: str) -> Paper:
    """The paper asked for; the laboratory's usual one where none or no known one is named."""
    return PAPERS.get(name.lower(), PAPERS[settings.LABBOOK_PAPER])
