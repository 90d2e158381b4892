"""From a reading back to the bytes of its file."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labbook.intake import Refusal, preview
from labbook.intake.lines import line_in, lines_around

UPLOADS = Path(__file__).parents[3] / "fixtures/uploads"
FILES = sorted(path for path in UPLOADS.iterdir() if path.suffix not in (".json", ".md"))
PLAIN = "time;Temp °C\r\n0;23,100\r\n15;23,102\r\n30;23,104\r\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252", "utf-16-le"])
def test_the_bytes_of_a_line_are_where_it_says(encoding: str) -> None:
    data = PLAIN.encode(encoding)
    found = preview(data)
    for line, text in zip(found.lines, found.readings_text, strict=True):
        place = line_in(data, found.encoding, line)
        assert place is not None
        taken = data[place.offset : place.offset + place.size]
        plain = "utf-16-le" if encoding.startswith("utf-16") else "cp1252"
        assert taken.decode(plain) == place.text
        assert place.text.endswith(text)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_every_reading_of_every_known_file_is_found_in_its_line(path: Path) -> None:
    data = path.read_bytes()
    try:
        found = preview(data)
    except Refusal:
        return
    assert len(found.lines) == len(found.readings)
    step = max(1, len(found.lines) // 20)
    for line, text in list(zip(found.lines, found.readings_text, strict=True))[::step]:
        place = line_in(data, found.encoding, line)
        assert place is not None and text in place.text


@given(st.lists(st.text("0123456789.,;°é\t ", max_size=12), min_size=3), st.sampled_from("\r\n"))
def test_lines_with_their_ends_make_the_whole_file(lines: list[str], end: str) -> None:
    lines[0] = "time;T °C"
    data = end.join(lines).encode()
    for number, text in enumerate(lines, 1):
        place = line_in(data, "utf-8", number)
        assert place is not None and place.text == text
        assert data[place.offset : place.offset + place.size] == text.encode()


def test_a_line_comes_with_its_neighbours_and_no_other() -> None:
    shown = lines_around(PLAIN.encode(), "utf-8", 3, around=1)
    assert [one.line for one in shown] == [2, 3, 4]
    assert [one.text for one in shown][1] == "15;23,102"
    assert lines_around(PLAIN.encode(), "utf-8", 99) == ()
    assert line_in(PLAIN.encode(), "utf-8", 0) is None
