"""The command line: documented keys, readable tables, and one plain sentence for bad input."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from reduction.__main__ import main

from .conftest import FIXTURES, RunFile

STEAM = FIXTURES / "reference/steam_calorimeter_readings.csv"
RISE_WORDS = "expected two columns, time in s and temperature in °C"
GOOD = [(15.0 * i, 20.0 if i < 20 else 22.5 - 2.5 * 0.7 ** (i - 19)) for i in range(80)]


def table(separator: str = ",", decimal: str = ".", header: str = "") -> str:
    rows = (f"{t:.1f}{separator}{temperature:.3f}" for t, temperature in GOOD)
    return header + "\n".join(rows).replace(".", decimal) + "\n"


def write(folder: Path, content: str | bytes, name: str = "run.csv") -> Path:
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def run_in_process(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "reduction", *arguments]
    return subprocess.run(
        command, capture_output=True, encoding="utf-8", env={**os.environ, **environment}
    )


def test_the_printed_readings_give_2_62_as_documented_json() -> None:
    # Steam: Its Generation and Use, 35th ed., pp. 186-188: 2.62 °C.
    done = run_in_process("rise", str(STEAM), "--fired-at", "120", "--json")
    assert done.returncode == 0 and done.stderr == ""
    result = json.loads(done.stdout)
    assert list(result) == ["fired_at_s", "settled_at_s", "drift", "rise", "notes"]
    assert list(result["drift"]) == ["fore_k_per_s", "after_k_per_s"]
    assert list(result["rise"]) == [
        "fraction",
        "fraction_060",
        "equal_areas",
        "regnault_pfaundler",
        "heat_balance",
        "difference",
    ]
    assert {"rise_k", "at_s"} <= set(result["rise"]["fraction"])
    assert result["rise"]["regnault_pfaundler"]["rise_k"] == pytest.approx(2.62, abs=0.005)
    assert result["fired_at_s"] == 120.0
    assert [note["code"] for note in result["notes"]] == ["fore_period_short"]


def test_the_printed_readings_as_a_table(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rise", str(STEAM), "--fired-at", "120"]) == 0
    printed = capsys.readouterr().out
    assert "Regnault–Pfaundler" in printed and "2.616" in printed and "mK/min" in printed


def test_a_settled_moment_that_is_given_is_used(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rise", str(STEAM), "--fired-at", "120", "--settled-at", "300", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["settled_at_s"] == 300.0


def test_the_firing_is_found_when_it_is_not_given(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rise", str(STEAM), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["fired_at_s"] == 120.0


@pytest.mark.parametrize(
    "content",
    [
        table(","),
        table(";"),
        table("\t"),
        table("  "),
        table(";", decimal=","),
        table("\t", decimal=","),
        "\ufeff" + table(",", header="Logger 7\ntime (s),temperature (°C)\n# bench A\n"),
        "\ufeff" + table(","),
        table(",").replace("\n", "\r\n"),
        table(";", header="# invented\nt;T\n").replace("\n", ";\n"),
    ],
)
def test_the_usual_tables_are_read_alike(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: str
) -> None:
    expected = write(tmp_path, table(","), "plain.csv")
    results = []
    for path in (expected, write(tmp_path, content)):
        assert main(["rise", str(path), "--fired-at", "285", "--json"]) == 0
        results.append(json.loads(capsys.readouterr().out))
    assert results[0] == results[1]
    assert results[0]["rise"]["equal_areas"]["rise_k"] == pytest.approx(2.5, rel=2e-3)


BAD_TABLES = {
    "empty": ("", "run.csv: no readings were found"),
    "header only": ("time,temperature\n", "run.csv: no readings were found"),
    "binary": (b"\x7fELF\0\0\1", "run.csv: this is not text"),
    "latin-1": ("t;T\n0;20 °C".encode("latin-1"), "run.csv, line 2: not UTF-8 text"),
    "truncated": (
        table() + "1200.0,",
        "run.csv, line 81: '' is not a number; expected a temperature in °C",
    ),
    "one column": (table(",") + "1200.0\n", "run.csv, line 81: 1 column; " + RISE_WORDS),
    "only one column": ("20.1\n20.2\n20.3\n", "run.csv, line 1: 1 column; " + RISE_WORDS),
    "three columns": (
        table(";").replace("15.0;", "15.0;x;", 1),
        "run.csv, line 2: 3 columns; " + RISE_WORDS,
    ),
    "decimal comma between commas": (
        table(",", decimal=","),
        "Where the comma is the decimal mark, separate the columns by semicolons.",
    ),
    "text among numbers": (
        table().replace("15.0,20.000", "15.0,warm"),
        "run.csv, line 2: 'warm' is not a number; expected a temperature in °C",
    ),
    "nan": (table().replace("15.0,20.000", "15.0,NaN"), "line 2: 'NaN' is not a number"),
    "infinite": (table().replace("15.0,20.000", "15.0,1e999"), "line 2: '1e999' is not a number"),
    "thousands": ("0;20,1\n1,234;20,2\n", "'1,234' could be 1.234 or 1234"),
    "two readings": ("0,20\n15,21\n", "2 usable readings"),
    "no number of a logger": (table().replace(",20.0", ",2000000000.0"), "Check units"),
    "huge": (b"0,20\n" * 1_100_000, "at most 5000000 are read"),
    "long": (b"0,20\n" * 210_000, "210000 rows; at most 200000 are read"),
}


def test_a_column_that_is_no_temperature_is_noted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ohms = "\n".join(f"{t},{100 + 0.39 * temperature:.3f}" for t, temperature in GOOD)
    assert main(["rise", str(write(tmp_path, ohms)), "--fired-at", "285"]) == 0
    assert "B  Values near 108" in capsys.readouterr().out


@pytest.mark.parametrize("name", BAD_TABLES)
def test_a_bad_table_is_refused_in_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    content, sentence = BAD_TABLES[name]
    assert main(["rise", str(write(tmp_path, content)), "--fired-at", "285"]) == 2
    told = capsys.readouterr()
    assert sentence in told.err and told.err.startswith("run.csv")
    assert told.err.count("\n") == 1 and told.out == ""


@pytest.mark.parametrize("fired", ["-5", "0", "5000", "1e300"])
def test_a_firing_outside_the_readings_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], fired: str
) -> None:
    path = write(tmp_path, table())
    assert main(["rise", str(path), f"--fired-at={fired}"]) == 2
    told = capsys.readouterr().err
    assert told.startswith("run.csv: Firing at") and "Check the firing moment" in told


@pytest.mark.parametrize("command", ["rise", "run"])
def test_a_missing_file_or_a_folder_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str
) -> None:
    for path, reason in ((tmp_path / "none.csv", "no such file"), (tmp_path, "is a directory")):
        assert main([command, str(path)]) == 2
        told = capsys.readouterr().err
        assert f"{path.name}: {reason}" in told and told.count("\n") == 1


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["rise"],
        ["burn", "x"],
        ["rise", "x", "--fired-at", "noon"],
        ["rise", "x", "--fired-at", "nan"],
    ],
)
def test_a_wrong_command_is_refused_in_one_sentence(
    capsys: pytest.CaptureFixture[str], arguments: list[str]
) -> None:
    with pytest.raises(SystemExit) as caught:
        main(arguments)
    told = capsys.readouterr().err
    assert caught.value.code == 2 and told.count("\n") == 1 and "--help" in told


def test_the_example_run_file_gives_every_number(capsys: pytest.CaptureFixture[str]) -> None:
    example = str(FIXTURES / "example_run.json")
    assert main(["run", example, "--json"]) == 0
    result = json.loads(capsys.readouterr().out)
    assert set(result) == {
        "kind",
        "version",
        "periods",
        "drift",
        "rise",
        "rise_used",
        "time_to_95_percent_s",
        "budget",
        "heat",
        "corrections",
        "heat_capacity",
        "combustion",
        "constants",
        "notes",
    }
    assert main(["run", example]) == 0
    printed = capsys.readouterr().out
    assert "at nominal water" in printed and "J/K" in printed and "Notes" in printed


def test_an_unknown_is_printed_with_its_equation(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], unknown: RunFile
) -> None:
    path = write(tmp_path, json.dumps(unknown()), "run.json")
    assert main(["run", str(path)]) == 0
    printed = capsys.readouterr().out
    assert "Δ_cH" in printed and "10 CO2(g)" in printed and "kJ/mol" in printed


BAD_RUNS = {
    "empty": ("", "run.json, line 1: expecting value; expected a run file in JSON"),
    "truncated": ('{"kind": "blank",\n"readings": {', "run.json, line 2: "),
    "binary": (b"\xff\xfe\0", "run.json: not UTF-8 text"),
    "a list": ("[]", "run.json: run: expected an object with the keys kind, readings"),
    "not a number": ('{"kind": NaN}', "run.json: holds what no run file holds, such as NaN"),
    "very deep": ("[" * 100_000, "run.json: holds what no run file holds"),
    "very long number": ('{"charge_g": ' + "9" * 5000 + "}", "holds what no run file holds"),
    "unknown key": ('{"kindd": "blank"}', "run.json: kindd: is not a known key"),
    "no such readings": (
        '{"kind": "blank", "readings_file": "none.csv"}',
        "none.csv: no such file",
    ),
    "bad readings": (
        '{"kind": "blank", "readings_file": "run.json"}',
        "run.json",
    ),
}


@pytest.mark.parametrize("name", BAD_RUNS)
def test_a_bad_run_file_is_refused_in_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    content, sentence = BAD_RUNS[name]
    assert main(["run", str(write(tmp_path, content, "run.json"))]) == 2
    told = capsys.readouterr()
    assert sentence in told.err and told.err.count("\n") == 1 and told.out == ""


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("charge_g", -0.9, "run.json: charge_g: -0.9 cannot be used; expected a number above 0"),
        ("charge_g", "0,9876", "run.json: charge_g: '0,9876' is not a number"),
        ("substance", {"name": "?"}, "run.json: substance.formula: is missing"),
        ("settled_at_s", 100.0, "run.json: settled_at_s: 100 s is not after the firing at 300 s"),
        ("fired_at_s", 9999.0, "run.json: Firing at 9999 s leaves 81 readings before"),
    ],
)
def test_a_bad_field_is_named_with_the_file(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    unknown: RunFile,
    field: str,
    value: object,
    sentence: str,
) -> None:
    path = write(tmp_path, json.dumps(unknown(**{field: value})), "run.json")
    assert main(["run", str(path)]) == 2
    assert sentence in capsys.readouterr().err


def test_a_reader_that_goes_away_leaves_no_traceback() -> None:
    command = f"{sys.executable} -m reduction rise {STEAM} --fired-at 120 | true"
    done = subprocess.run(["bash", "-c", command], capture_output=True, encoding="utf-8")
    assert done.stderr == ""


def test_a_terminal_that_knows_only_ascii_is_no_obstacle() -> None:
    done = run_in_process("rise", str(STEAM), "--fired-at", "120", PYTHONIOENCODING="ascii")
    assert done.returncode == 0 and "Regnault–Pfaundler" in done.stdout


def test_no_django_is_needed() -> None:
    code = "import sys, reduction.__main__; sys.exit('django' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0
