"""The command line: `python -m reduction rise FILE` and `python -m reduction run FILE.json`.

Exit code 0 with the result on standard output, 2 with one sentence on standard error.
"""

import argparse
import json
import math
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NoReturn

from reduction.curve import reduce_curve
from reduction.errors import InputError, ReductionError
from reduction.notes import Note, Thresholds
from reduction.periods import find_periods
from reduction.reduce_run import RunInputs, reduce_run
from reduction.remarks import curve_notes, hide_the_curve, reading_notes
from reduction.remarks.certainty import certainty_notes
from reduction.report import rise_report, run_report
from reduction.table import TableError, read_bytes, read_table
from reduction.thermogram import Thermogram

RISE_METHODS = (
    "fraction",
    "fraction_060",
    "equal_areas",
    "regnault_pfaundler",
    "heat_balance",
    "difference",
)
RISE_KEYS = ("rise_k", "at_s", "why")


class Parser(argparse.ArgumentParser):
    """A parser that complains in one sentence."""

    def error(self, message: str) -> NoReturn:
        print(f"{self.prog}: {message}; try --help.", file=sys.stderr)
        raise SystemExit(2)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; returns the exit code."""
    options = _parser().parse_args(arguments)
    command: Callable[[argparse.Namespace], str] = options.command
    try:
        print(command(options), flush=True)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except TableError as error:
        return _refuse(str(error))
    except ReductionError as error:
        return _refuse(f"{options.file.name}: {error}")
    return 0


def _refuse(sentence: str) -> int:
    print(sentence, file=sys.stderr)
    return 2


def _parser() -> Parser:
    parser = Parser(prog="python -m reduction", description="Reduce a combustion run.")
    commands = parser.add_subparsers(required=True, metavar="rise|run", parser_class=Parser)
    rise = commands.add_parser("rise", help="corrected temperature rise of a thermogram")
    rise.add_argument("file", type=Path, help="two columns: time in s, temperature in °C")
    rise.add_argument("--fired-at", type=_seconds, metavar="S", help="found when not given")
    rise.add_argument("--settled-at", type=_seconds, metavar="S", help="found when not given")
    rise.set_defaults(command=_rise)
    run = commands.add_parser("run", help="everything about one run")
    run.add_argument("file", type=Path, help="a run file in JSON")
    run.set_defaults(command=_run)
    for command in (rise, run):
        command.add_argument("--json", action="store_true", help="JSON in place of tables")
    return parser


def _seconds(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = math.nan
    if not math.isfinite(seconds):
        raise argparse.ArgumentTypeError(f"{text!r} is not a time in seconds")
    return seconds


def _rise(options: argparse.Namespace) -> str:
    time_s, temperature_c = read_table(options.file)
    thermogram = Thermogram.of(time_s, temperature_c)
    limits = Thresholds()
    last = float(thermogram.time_s[-1])
    if options.settled_at is not None and options.settled_at > last:
        raise InputError(
            "settled_at_s", f"{options.settled_at:g} s is after the last reading at {last:g} s."
        )
    periods = find_periods(thermogram, options.fired_at, options.settled_at, thresholds=limits)
    curve = reduce_curve(thermogram, periods)
    notes = reading_notes(time_s, temperature_c, limits)
    if not hide_the_curve(notes):
        notes += curve_notes(thermogram, periods, curve, limits)
        notes += certainty_notes(curve, limits)
    result = {
        "fired_at_s": periods.fired_at_s,
        "settled_at_s": periods.settled_at_s,
        "drift": {
            "fore_k_per_s": curve.drift["fore"]["slope_k_per_s"],
            "after_k_per_s": curve.drift["after"]["slope_k_per_s"],
        },
        "rise": {
            method: {key: value for key, value in curve.rise[method].items() if key in RISE_KEYS}
            for method in RISE_METHODS
        },
        "notes": [_note(note) for note in notes],
    }
    return _as_json(result) if options.json else rise_report(result, list(periods.why))


def _note(note: Note) -> dict[str, str]:
    return {
        "code": note.code,
        "severity": note.severity,
        "sentence": note.sentence,
        "advice": note.advice,
    }


def _run(options: argparse.Namespace) -> str:
    inputs = RunInputs.from_dict(_load(options.file), base_dir=options.file.parent)
    result = reduce_run(inputs).as_dict()
    return _as_json(result) if options.json else run_report(result)


def _load(path: Path) -> object:
    """The run file's content; raises TableError naming file and line."""
    content = read_bytes(path)
    try:
        return json.loads(content.decode("utf-8-sig"), parse_constant=_no_constant)
    except json.JSONDecodeError as error:
        raise TableError(
            f"{path.name}, line {error.lineno}: {error.msg.lower()}; expected a run file in JSON."
        ) from error
    except UnicodeDecodeError as error:
        raise TableError(f"{path.name}: not UTF-8 text; expected a run file in JSON.") from error
    except (ValueError, RecursionError) as error:
        raise TableError(
            f"{path.name}: holds what no run file holds, such as NaN, a number of thousands of "
            "digits or very deep brackets; expected a run file in JSON."
        ) from error


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not a number of JSON.")


def _as_json(result: dict[str, Any]) -> str:
    return json.dumps(result, indent=2, ensure_ascii=True, allow_nan=False)


if __name__ == "__main__":
    sys.stdout.reconfigure(encoding="utf-8")  # type: ignore[union-attr]  # a text stream in scripts
    sys.stderr.reconfigure(encoding="utf-8")  # type: ignore[union-attr]  # likewise
    sys.exit(main())
