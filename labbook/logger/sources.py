"""Where lines come from: a serial port, or standard input."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator

LONGEST_LINE = 4096
REOPEN_AFTER_S = 2.0


class NoSerial(Exception):
    """pyserial is missing, or the port can never be opened; the text says which."""


def lines_of_input() -> Iterator[str]:
    """Lines of standard input as they come, until it ends."""
    for line in sys.stdin.buffer:
        yield line.decode("utf-8", errors="replace")


def lines_of_port(port: str, baud: int, say: Callable[[str], None]) -> Iterator[str]:
    """Lines of a serial port. A port that goes away is waited for: a plug can be put back."""
    try:
        import serial
    except ImportError as error:
        raise NoSerial("A serial port needs pyserial: pip install pyserial.") from error
    is_away = False
    while True:
        try:
            with serial.Serial(port, baud, timeout=0.5) as opened:
                say(f"reading {port} at {baud} baud")
                is_away = False
                yield from _lines(opened.read)
        except ValueError as error:
            raise NoSerial(f"{port} at {baud} baud cannot be opened: {error}.") from error
        except OSError as error:
            if not is_away:
                say(f"{port} cannot be read ({error}); waiting for it")
            is_away = True
            time.sleep(REOPEN_AFTER_S)


def _lines(read: Callable[[int], bytes]) -> Iterator[str]:
    """Whole lines out of single bytes; a line ends with CR, LF or both."""
    rest = bytearray()
    while True:
        byte = read(1)
        if byte in (b"\n", b"\r"):
            if rest:
                yield rest.decode("utf-8", errors="replace")
            rest.clear()
        elif byte and len(rest) < LONGEST_LINE:
            rest += byte
