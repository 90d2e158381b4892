"""The readings of a run as the text files that different loggers write."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime, timedelta

Rows = Iterable[tuple[float, str]]
Writer = Callable[[Rows, datetime], tuple[str, str]]


def _comma(rows: Rows, started: datetime) -> tuple[str, str]:
    lines = ["time (s),temperature (°C)"]
    return "\n".join(lines + [f"{time:g},{text}" for time, text in rows]) + "\n", "utf-8"


def _decimal_comma(rows: Rows, started: datetime) -> tuple[str, str]:
    head = ["Bench logger", f"Started;{started:%Y-%m-%d %H:%M:%S}", "", "Time (s);Temperature (°C)"]
    body = [f"{time:.1f};{text}".replace(".", ",") for time, text in rows]
    return "\r\n".join(head + body) + "\r\n", "latin-1"


def _clock_times(rows: Rows, started: datetime) -> tuple[str, str]:
    body = [f"{_when(started, time):%H:%M:%S}\t{text}" for time, text in rows]
    return "\r\n".join(["Clock time\tBucket °C", *body]) + "\r\n", "utf-8-sig"


def _dates(rows: Rows, started: datetime) -> tuple[str, str]:
    head = ["# bench logger, channel 1: bucket", "timestamp,bucket_C"]
    body = [f"{_when(started, time):%Y-%m-%dT%H:%M:%S},{text}" for time, text in rows]
    return "\n".join(head + body) + "\n", "utf-8"


def _milliseconds(rows: Rows, started: datetime) -> tuple[str, str]:
    body = [f'"{1000 * time:.0f}";"{text}"' for time, text in rows]
    return "\r\n".join(['"time (ms)";"temperature (°C)"', *body]) + "\r\n", "utf-16"


def _when(started: datetime, time: float) -> datetime:
    return started + timedelta(seconds=time)


WRITERS: tuple[Writer, ...] = (_comma, _decimal_comma, _clock_times, _dates, _milliseconds)


def logger_file(dialect: int, rows: Rows, started: datetime) -> tuple[str, bytes]:
    """A file's name and bytes; ``started`` is what the logger's clock showed at time 0."""
    text, encoding = WRITERS[dialect % len(WRITERS)](rows, started)
    ending = "csv" if "," in text.partition("\n")[0] or ";" in text else "txt"
    return f"bucket-{started:%Y%m%d-%H%M}.{ending}", text.encode(encoding)
