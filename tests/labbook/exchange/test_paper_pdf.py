"""PDF of the pages to print: true to scale, from the record's own styles, or a sentence why not."""

from __future__ import annotations

import re
import sys
import zlib
from contextlib import suppress
from math import prod

import pytest

from labbook.exchange.paper.feet import css_text
from labbook.exchange.paper.labels import code_of
from labbook.exchange.paper.pdf import PACKAGES, PdfUnavailable, as_pdf
from labbook.exchange.paper.sizes import A4, LETTER, Paper
from labbook.plots.plot_paper import plot_paper

from ..needs import needs_pango

POINTS_PER_MM = 72 / 25.4
STREAM = re.compile(rb"stream\n(.*?)\nendstream", re.DOTALL)
SCALED = re.compile(r"^([\d.]+) 0 0 (-?[\d.]+) \S+ \S+ cm$", re.MULTILINE)


def streams_of(pdf: bytes) -> list[str]:
    found = []
    for packed in STREAM.findall(pdf):
        with suppress(zlib.error):
            found.append(zlib.decompress(packed).decode("latin-1"))
    return found


def drawn_in(pdf: bytes) -> list[str]:
    """What the pages' drawing instructions say."""
    return [text for text in streams_of(pdf) if text.startswith("1 0 0 -1 0 ")]


def a_page(content: str, paper: Paper = A4, lies: str = "lying") -> str:
    return (
        '<html><head><link rel="stylesheet" href="/static/labbook/paper.css"></head>'
        f'<body class="{paper.key} {lies}">{content}</body></html>'
    )


@needs_pango
@pytest.mark.parametrize(
    ("paper", "width", "height"), [(A4, 841.89, 595.28), (LETTER, 792.0, 612.0)]
)
def test_squared_paper_is_printed_true_to_scale(paper: Paper, width: float, height: float) -> None:
    drawn = plot_paper([0, 600, 1200], [22.0, 23.0, 24.7], paper.grid)
    pdf = as_pdf(a_page(drawn.drawing, paper), {})
    box = re.search(r"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", "\n".join(streams_of(pdf)))
    assert box is not None
    assert (float(box[1]), float(box[2])) == pytest.approx((width, height), abs=0.01)
    (page,) = drawn_in(pdf)
    before_the_squares = page[: page.index("0.05 w")]
    across, up = zip(*SCALED.findall(before_the_squares), strict=True)
    assert prod(map(float, across)) == pytest.approx(POINTS_PER_MM, rel=1e-6)
    assert abs(prod(map(float, up))) == pytest.approx(POINTS_PER_MM, rel=1e-6)
    assert re.search(r"^100 \d+ l$", page, re.MULTILINE), "the bar of 100 mm"


@needs_pango
def test_styles_that_are_no_files_are_found_by_their_address() -> None:
    feet = '@page { @bottom-left { content: "x" } margin: 40mm !important }'
    page = a_page("<p>one</p>", lies="upright").replace(
        "</head>", '<link rel="stylesheet" href="/feet.css"></head>'
    )
    assert drawn_in(as_pdf(page, {"/feet.css": feet})) != drawn_in(as_pdf(page, {"/feet.css": ""}))


@needs_pango
@pytest.mark.parametrize(
    "address", ["http://example.org/a.css", "/static/../secret.css", "/static/labbook/none.css"]
)
def test_nothing_else_is_fetched(address: str) -> None:
    page = f'<html><head><link rel="stylesheet" href="{address}"></head><body>x</body></html>'
    with pytest.raises(ValueError, match="Error fetching"):
        as_pdf(page, {})


def test_missing_libraries_are_named_with_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    class Missing:
        def find_spec(self, name: str, *rest: object) -> None:
            if name == "weasyprint":
                raise OSError("cannot load library 'libpango-1.0-0': libpango-1.0-0: no such file")

    monkeypatch.delitem(sys.modules, "weasyprint", raising=False)
    monkeypatch.setattr(sys, "meta_path", [Missing(), *sys.meta_path])
    with pytest.raises(PdfUnavailable) as told:
        as_pdf("<p>x</p>", {})
    assert "library libpango-1.0-0 is missing" in str(told.value) and PACKAGES in str(told.value)


def test_words_at_the_foot_cannot_leave_their_string() -> None:
    assert css_text('B1"; } * {') == (
        '"B1\\000022 \\00003b \\000020 \\00007d \\000020 \\00002a \\000020 \\00007b "'
    )


def test_a_code_is_drawn_in_black_without_styles_of_its_own() -> None:
    drawn = code_of("https://record.example/at/ABCDEFGH/")
    assert 'class="qr"' in drawn and "style=" not in drawn and 'stroke="#000"' in drawn
