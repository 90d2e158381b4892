"""A drawing as a picture of dots, for programs that take no SVG: by way of a page of PDF."""

from __future__ import annotations

from io import BytesIO

import pypdfium2

from .pdf import as_pdf

DOTS_PER_INCH = 300
POINTS_PER_INCH = 72


def as_png(drawing: str, width_mm: float, height_mm: float) -> bytes:
    """Raises PdfUnavailable where this server makes no PDF."""
    size = f"@page {{ size: {width_mm}mm {height_mm}mm; margin: 0 }} body {{ margin: 0 }}"
    page = f"<html><head><style>{size} svg {{ display: block }}</style></head>"
    pdf = pypdfium2.PdfDocument(as_pdf(f"{page}<body>{drawing}</body></html>", {}))
    try:
        picture = pdf[0].render(scale=DOTS_PER_INCH / POINTS_PER_INCH, grayscale=True).to_pil()
        written = BytesIO()
        picture.save(written, "PNG", dpi=(DOTS_PER_INCH, DOTS_PER_INCH), optimize=True)
    finally:
        pdf.close()
    return written.getvalue()
