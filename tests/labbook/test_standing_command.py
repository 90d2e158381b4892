"""The command for cron and monitoring: how each bench stands, and its exit code."""

from __future__ import annotations

import json

import pytest
from django.core.management import CommandError, call_command

from .conftest import Laboratory
from .histories import SOUND, approved_values

JUMP = (10_250.0, 10_260.0)


def test_sound_benches_are_printed_in_words(
    laboratory: Laboratory, capsys: pytest.CaptureFixture[str]
) -> None:
    approved_values(laboratory, SOUND)
    call_command("standing")
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("B1: steady since ")
    assert "C = 10086.0 ± 50.0 J/K (95 %), approved " in lines[0]
    assert "B2: too few points. No approval in force." in lines
    assert any("was expected" in line for line in lines)


def test_a_bench_out_of_line_makes_the_exit_code_1(
    laboratory: Laboratory, capsys: pytest.CaptureFixture[str]
) -> None:
    made = approved_values(laboratory, [*SOUND, *JUMP])
    with pytest.raises(SystemExit) as ended:
        call_command("standing", json=True)
    assert ended.value.code == 1
    first, second = json.loads(capsys.readouterr().out)
    assert (first["bench"], first["standing"]) == ("B1", "out of line")
    assert first["since"] == made[-1].approved_at.isoformat()
    assert (first["c_j_per_k"], first["half_width_95_j_per_k"]) == (10_260.0, 50.0)
    assert first["in_service"] is True and len(first["reasons"]) >= 2
    assert (second["standing"], second["c_j_per_k"], second["since"]) == (
        "too few points", None, None,
    )  # fmt: skip


def test_one_bench_is_asked_for_by_its_code(
    laboratory: Laboratory, capsys: pytest.CaptureFixture[str]
) -> None:
    approved_values(laboratory, [*SOUND, *JUMP])
    call_command("standing", bench="B2")
    assert capsys.readouterr().out.startswith("B2: too few points")
    with pytest.raises(CommandError, match="There is no bench B9"):
        call_command("standing", bench="B9")
