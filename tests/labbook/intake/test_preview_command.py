"""`manage.py preview FILE`: what it prints and its exit codes, without a database."""

import io
import json

import pytest
from django.core.management import call_command

GOOD = "time (s),temp (°C)\n0,23.100\n15,23.102\n30,NaN\n"
DATES = "time,temp (°C)\n03/04/2024 10:00:00,23.10\n03/04/2024 10:00:15,23.12\n"


@pytest.fixture
def run(tmp_path):
    def run(text: str | bytes, *options: str) -> tuple[int, str, str]:
        path, out, err = tmp_path / "upload.csv", io.StringIO(), io.StringIO()
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return called(str(path), *options, out=out, err=err), out.getvalue(), err.getvalue()

    return run


def called(*arguments: str, out: io.StringIO, err: io.StringIO) -> int:
    try:
        call_command("preview", *arguments, stdout=out, stderr=err)
    except SystemExit as end:
        return int(end.code)
    return 0


def test_an_understood_file_is_printed_as_json(run):
    code, out, _ = run(GOOD, "--json")
    found = json.loads(out)
    assert code == 0
    assert found["readings"] == [[0, 23.1], [15, 23.102]]
    assert found["left_out"][0]["line"] == 4


def test_an_understood_file_is_printed_for_people(run):
    code, out, _ = run(GOOD)
    assert code == 0
    assert "comma" in out
    assert "line 4" in out


def test_a_refused_file_exits_with_two_and_the_sentence_on_stderr(run):
    code, out, err = run(b"\x00\x01\x02\x03", "--json")
    assert (code, out) == (2, "")
    assert "not plain text" in err


def test_an_undecidable_file_exits_with_three_and_its_questions(run):
    code, out, _ = run(DATES, "--json")
    assert code == 3
    assert json.loads(out)["questions"][0]["code"] == "day_first"


def test_questions_are_printed_with_the_words_that_answer_them(run):
    code, out, _ = run(DATES)
    assert code == 3
    assert "--choose 'day_first=yes'" in out


def test_a_question_is_answered_on_the_command_line(run):
    code, out, _ = run(DATES, "--json", "--choose", "day_first=yes")
    assert code == 0
    assert json.loads(out)["readings"] == [[0, 23.1], [15, 23.12]]


def test_a_choice_without_a_value_is_refused(run):
    assert run(GOOD, "--choose", "day_first")[0] == 2


@pytest.mark.parametrize("name", ["missing.csv", "."])
def test_a_file_that_cannot_be_opened_is_refused(name, tmp_path):
    err = io.StringIO()
    assert called(str(tmp_path / name), out=io.StringIO(), err=err) == 2
    assert "cannot be read" in err.getvalue()
