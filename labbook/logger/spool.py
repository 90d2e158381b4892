"""Readings on disk until the server has them: a file that is only appended to.

A line is a reading, or says which were sent. A line cut short by a power failure is left out: it
was never sent. The file is written anew, with what is still unsent, once it has grown.
"""

from __future__ import annotations

import fcntl
import json
import os
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

LARGEST = 1024 * 1024
KEPT_BY_ANOTHER = "another logger is using it"


@dataclass(frozen=True)
class Reading:
    series: str
    seq: int
    clock: str
    value: str
    unit: str

    @property
    def key(self) -> tuple[str, int]:
        return self.series, self.seq


class SpoolError(Exception):
    """The spool cannot be used; the text says why."""


class Spool:
    """The readings that are not sent yet, in the order they were read."""

    def __init__(self, path: Path, token_mark: str) -> None:
        self.path, self._mark, self._found_mark = path, token_mark, ""
        self._lock = self._hold()
        self._waiting: dict[tuple[str, int], Reading] = {}
        self._load()
        if self._waiting and self._found_mark != token_mark:
            raise SpoolError(
                f"{path} holds {len(self._waiting)} readings of another token, perhaps of another "
                "bench. Name another file with --spool, and send these with their own token."
            )
        self._rewrite()

    def _hold(self) -> int:
        """Keep other loggers away from the file for as long as this process lives."""
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            lock = os.open(f"{self.path}.lock", os.O_CREAT | os.O_RDWR, 0o600)
        except OSError as error:
            raise SpoolError(f"{self.path} cannot be written: {error.strerror}.") from error
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            os.close(lock)
            raise SpoolError(f"{self.path}: {KEPT_BY_ANOTHER}.") from error
        return lock

    def _load(self) -> None:
        if not self.path.exists():
            return
        for line in self.path.read_text("utf-8", errors="replace").splitlines():
            try:
                self._apply(json.loads(line))
            except (ValueError, TypeError, KeyError):
                continue

    def _apply(self, entry: dict[str, Any]) -> None:
        if "token" in entry:
            self._found_mark = str(entry["token"])
        elif "sent" in entry:
            for series, seq in entry["sent"]:
                self._waiting.pop((series, seq), None)
        else:
            reading = Reading(**entry)
            self._waiting[reading.key] = reading

    def waiting(self) -> list[Reading]:
        return list(self._waiting.values())

    def add(self, reading: Reading) -> None:
        """On disk when this returns."""
        self._append(asdict(reading), durable=True)
        self._waiting[reading.key] = reading

    def done(self, readings: Iterable[Reading]) -> None:
        """Let go of readings the server has, or never wants.

        Where a crash comes before this is on disk they are sent again.
        """
        keys = [reading.key for reading in readings]
        for key in keys:
            self._waiting.pop(key, None)
        if keys:
            self._append({"sent": keys}, durable=False)
        if self._file.tell() > LARGEST and len(self._waiting) < 1000:
            self._rewrite()

    def set_apart(self, readings: Iterable[Reading], why: str) -> None:
        """Keep readings that were refused for good in a file beside, for a person to look at."""
        with self.path.with_name(f"{self.path.name}.refused").open("a", encoding="utf-8") as file:
            for reading in readings:
                file.write(json.dumps(asdict(reading) | {"why": why}, ensure_ascii=False) + "\n")

    def _append(self, entry: dict[str, object], *, durable: bool) -> None:
        self._file.write(json.dumps(entry, ensure_ascii=False) + "\n")
        self._file.flush()
        if durable:
            os.fsync(self._file.fileno())

    def _rewrite(self) -> None:
        """What still waits, in a new file that takes the old one's place at once."""
        fresh = self.path.with_name(f"{self.path.name}.new")
        entries = [{"token": self._mark}, *(asdict(reading) for reading in self.waiting())]
        with os.fdopen(os.open(fresh, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600), "w") as file:
            file.writelines(json.dumps(entry, ensure_ascii=False) + "\n" for entry in entries)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(self.path)
        self._file = self.path.open("a", encoding="utf-8")
        folder = os.open(self.path.parent, os.O_RDONLY)
        os.fsync(folder)
        os.close(folder)
