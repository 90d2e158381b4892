"""The command: read lines, keep them, send them."""

from __future__ import annotations

import argparse
import hashlib
import os
import re
import signal
import sys
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from .lines import UNITS, Layout
from .sending import Sender
from .server import Server, TokenRefused, Unreachable
from .sources import NoSerial, lines_of_input, lines_of_port
from .spool import Spool, SpoolError

ALL_SENT, WRONG_USE, STILL_UNSENT, TOKEN_REFUSED = 0, 2, 3, 4
EXIT_CODES = (
    "exit codes: 0 all was sent; 2 something in the command, port or spool is wrong; "
    "3 readings are still unsent and stay in the spool; 4 the token is refused"
)


def main(arguments: list[str] | None = None) -> int:
    chosen = _parser().parse_args(arguments)
    try:
        layout = _layout(chosen)
        token = _token(chosen.token_file)
        mark = hashlib.sha256(token.encode()).hexdigest()[:16]
        spool = Spool(chosen.spool, mark)
    except (ValueError, OSError, SpoolError) as error:
        say(str(error))
        return WRONG_USE
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    server = Server(chosen.server.rstrip("/"), token)
    if not _greet(server, spool):
        return TOKEN_REFUSED
    sender = Sender(server, spool, say, chosen.keep_minutes)
    sender.start()
    try:
        _read(_lines(chosen), layout, sender)
    except NoSerial as error:
        say(str(error))
        return WRONG_USE
    except OSError as error:
        say(f"readings cannot be kept on this computer: {error}")
        return WRONG_USE
    except KeyboardInterrupt:
        say("stopped")
    unsent = sender.end(chosen.wait)
    say("all readings are sent" if not unsent else f"{unsent} readings stay in {chosen.spool}")
    return STILL_UNSENT if unsent else ALL_SENT


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m labbook.logger",
        description="Sends the lines of a device at a bench to the record, and keeps those it "
        "cannot send yet. The token is read from --token-file or from LABBOOK_TOKEN.",
        epilog=EXIT_CODES,
        allow_abbrev=False,
    )
    parser.add_argument("--server", required=True, help="such as https://record.example")
    parser.add_argument("--token-file", type=Path, help="a file with the device's token alone")
    parser.add_argument("--port", help="serial port; standard input without it")
    parser.add_argument("--baud", type=int, default=9600)
    parser.add_argument("--column", type=int, help="column of the value, from 1")
    parser.add_argument(
        "--pattern", help="regular expression with (?P<value>…), perhaps (?P<unit>…)"
    )
    parser.add_argument("--unit", default="°C", choices=list(UNITS), help="where a line names none")
    parser.add_argument("--decimal-comma", action="store_true", help="23,104 is 23.104")
    parser.add_argument("--spool", type=Path, default=Path("readings.spool"))
    parser.add_argument("--keep-minutes", type=float, default=60, help="for readings no run takes")
    parser.add_argument(
        "--wait", type=float, default=60, help="seconds to go on sending at the end"
    )
    return parser


def _layout(chosen: argparse.Namespace) -> Layout:
    if chosen.column is not None and (chosen.column < 1 or chosen.pattern):
        raise ValueError("--column counts from 1, and not together with --pattern.")
    pattern = None
    if chosen.pattern:
        try:
            pattern = re.compile(chosen.pattern)
        except re.error as error:
            raise ValueError(f"--pattern cannot be read: {error}.") from error
        if "value" not in pattern.groupindex:
            raise ValueError("--pattern names no (?P<value>…).")
    return Layout(chosen.unit, chosen.column, pattern, chosen.decimal_comma)


def _token(file: Path | None) -> str:
    """From a file or the environment; never from the command, which others on this PC can see."""
    token = file.read_text().strip() if file else os.environ.get("LABBOOK_TOKEN", "").strip()
    if not re.fullmatch(r"[A-Za-z0-9_-]{20,200}", token):
        raise ValueError("No token was found. Put it into a file and name it with --token-file.")
    return token


def _greet(server: Server, spool: Spool) -> bool:
    """Ask for the bench once. A token refused is a reason to end only while nothing waits."""
    try:
        answer = server.ping()
    except TokenRefused:
        say("the server knows no device by this token; a coordinator makes another")
        return bool(spool.waiting())
    except Unreachable as error:
        say(f"{error}; readings are kept on this computer and sent later")
        return True
    say(f"sending as {answer.get('device')} of bench {answer.get('bench')}")
    return True


def _lines(chosen: argparse.Namespace) -> Iterator[str]:
    return lines_of_port(chosen.port, chosen.baud, say) if chosen.port else lines_of_input()


def _read(lines: Iterator[str], layout: Layout, sender: Sender) -> None:
    misread = 0
    for line in lines:
        if not line.strip():
            continue
        found = layout.read(line)
        if found is not None:
            sender.add(*found)
            continue
        misread += 1
        if misread & (misread - 1) == 0:  # the 1st, 2nd, 4th, 8th …: a word now and then
            say(f"no value was found in “{line.strip()[:60]}” ({misread} such lines so far)")


def say(words: str) -> None:
    print(f"{datetime.now():%H:%M:%S} {words}", file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main())
