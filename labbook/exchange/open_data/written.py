"""A file of an archive while it is written: its size and its checksum, known at the end."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import IO


@dataclass(frozen=True)
class Written:
    """``rows`` counts those of a table."""

    size: int
    sha256: str
    rows: int = 0


class Counted:
    """Passes bytes on, and keeps count of them."""

    def __init__(self, to: IO[bytes]) -> None:
        self._to, self._sum, self.size = to, hashlib.sha256(), 0

    def write(self, text: str) -> int:
        content = text.encode()
        self._sum.update(content)
        self.size += len(content)
        return self._to.write(content)

    @property
    def sha256(self) -> str:
        return self._sum.hexdigest()
