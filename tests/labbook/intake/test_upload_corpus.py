"""Every file of the upload corpus yields exactly what its expected values say.

The files and their values were written by hand from the rules of the formats: RFC 4180 for quoted
cells, ISO 8601 and RFC 3339 for instants, Unix time (2024-03-01T10:00:00Z is 1 709 287 200 s),
spreadsheet serial days counted from 1899-12-30, Unicode byte-order marks, 0 °C = 273.15 K and
32 °F (the SI Brochure and its conversion factors). What loggers write besides is common practice.
"""

import json
from pathlib import Path
from typing import Any

import pytest

from labbook.intake import Choices, Refusal, preview

UPLOADS = Path(__file__).parents[3] / "fixtures" / "uploads"
ENDING = ".expected.json"
NAMES = sorted(path.name.removesuffix(ENDING) for path in UPLOADS.glob(f"*{ENDING}"))


def expected_of(name: str) -> dict[str, Any]:
    return json.loads((UPLOADS / (name + ENDING)).read_text(encoding="utf-8"))


def test_the_corpus_holds_at_least_sixty_files_each_with_its_expected_values():
    files = {path.name for path in UPLOADS.iterdir() if not path.name.endswith(ENDING)}
    assert files - {"SOURCES.md"} == set(NAMES)
    assert len(NAMES) >= 60


@pytest.mark.parametrize("name", NAMES)
def test_file_gives_its_expected_values_question_or_refusal(name):
    data, expected = (UPLOADS / name).read_bytes(), expected_of(name)
    if "refused" in expected:
        check_refusal(data, Choices(), expected["refused"])
        return
    found = preview(data)
    if "asks" in expected:
        assert [question.code for question in found.questions] == expected["asks"]
        assert not found.readings
        for answer in expected["answers"]:
            check_answer(data, answer)
        return
    assert not found.questions
    check_yield(found.as_dict(), expected["yields"])
    for item in ("first_clock", "first_time_s"):
        if item in expected:
            assert getattr(found, item) == expected[item]


def check_refusal(data: bytes, choices: Choices, words: list[str]) -> None:
    with pytest.raises(Refusal) as refused:
        preview(data, choices=choices)
    for word in words:
        assert word in refused.value.sentence


def check_answer(data: bytes, answer: dict[str, Any]) -> None:
    choices = Choices.from_dict(answer["choose"])
    if "refused" in answer:
        check_refusal(data, choices, answer["refused"])
        return
    found = preview(data, choices=choices)
    assert not found.questions
    assert found.as_dict()["readings"] == answer["readings"]


def check_yield(found: dict[str, Any], expected: dict[str, Any]) -> None:
    expected = dict(expected)
    left_out = expected.pop("left_out")
    assert [item["line"] for item in found["left_out"]] == [item["line"] for item in left_out]
    for item, wanted in zip(found["left_out"], left_out, strict=True):
        assert wanted["why"] in item["why"]
    assert {key: found[key] for key in expected} == expected
