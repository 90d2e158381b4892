"""The logger's command, given wrongly: a sentence and an exit code before anything is read."""

from __future__ import annotations

from pathlib import Path

import pytest

from labbook.logger.__main__ import main


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--pattern", "("], "--pattern cannot be read"),
        (["--pattern", "[0-9]+"], "names no (?P<value>…)"),
        (["--column", "0"], "counts from 1"),
        (["--column", "1", "--pattern", "(?P<value>.)"], "not together"),
        (["--token-file", "/nonexistent"], "No such file"),
        (["--token-file", "/dev/null"], "No token was found"),
        (["--spool", "/dev/null/spool"], "cannot be written"),
    ],
)
def test_a_wrong_command_ends_with_a_sentence(
    arguments: list[str], words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "token").write_text("x" * 43)
    usual = ["--server", "http://127.0.0.1:9", "--token-file", str(tmp_path / "token")]
    spool = ["--spool", str(tmp_path / "spool")]
    assert main([*usual, *spool, *arguments]) == 2
    assert words in capsys.readouterr().err


def test_the_token_is_no_argument(capsys: pytest.CaptureFixture[str]) -> None:
    """Others on the same PC can read the arguments of a process."""
    with pytest.raises(SystemExit):
        main(["--server", "http://127.0.0.1:9", "--token", "x" * 43])
    assert "--token-file" in capsys.readouterr().err
