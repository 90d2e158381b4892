"""What is in a backup: the database's copy, the archives of closed terms, and a manifest of them.

The server's secret key is left out: whoever finds a backup must not be able to make sign-ins.
Restored beside another key the record is whole, and everybody signs in again.
"""

from __future__ import annotations

import hashlib
import json
import zipfile
import zlib
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from ...problems import refuse

FORM = 1  # of the manifest; goes up when a program that reads it must change
MANIFEST = "manifest.json"
COPY = {"sqlite": "record.sqlite3", "postgresql": "record.pgdump"}
ARCHIVES = "archives/"
DAMAGED = (
    zipfile.BadZipFile, zlib.error, RuntimeError, NotImplementedError, EOFError, OSError,
    ValueError,
)  # fmt: skip
AT_ONCE = 1 << 20


@dataclass(frozen=True)
class Manifest:
    """What a backup says of itself. ``tables`` are rows by table; ``files`` are SHA-256 by name."""

    made_at: str
    version: str
    migration: str
    database: str
    tried: bool
    whole: bool
    books: int
    links: int
    heads: str
    tables: dict[str, int]
    files: dict[str, str]
    form: int = FORM

    @property
    def copy(self) -> str:
        return COPY[self.database]


def write_backup(to: Path, manifest: Manifest, files: dict[str, Path]) -> None:
    with zipfile.ZipFile(to, "w", zipfile.ZIP_DEFLATED, compresslevel=4) as archive:
        for name, file in files.items():
            archive.write(file, name)
        archive.writestr(MANIFEST, json.dumps(asdict(manifest), indent=1) + "\n")


def read_manifest(file: Path) -> Manifest:
    """What the backup holds, once every byte of it was read and is as it was written."""
    try:
        with zipfile.ZipFile(file) as archive:
            manifest = _manifest_in(archive)
            found = {name: _sum(archive, name) for name in archive.namelist() if name != MANIFEST}
    except DAMAGED as error:
        said = getattr(error, "strerror", None) or error
        raise refuse("damaged", f"{file} cannot be read, or is damaged: {said}.") from error
    for name in sorted(manifest.files.keys() | found.keys()):
        if manifest.files.get(name) != found.get(name):
            raise refuse("damaged", f"In {file}, {name} is not as it was written.")
    if manifest.database not in COPY or manifest.copy not in found:
        raise refuse("damaged", f"In {file} there is no copy of a database.")
    return manifest


def _manifest_in(archive: zipfile.ZipFile) -> Manifest:
    try:
        said: dict[str, Any] = json.loads(archive.read(MANIFEST))
        form = said.get("form")
        if form == FORM:
            return Manifest(**said)
    except (KeyError, ValueError, TypeError, AttributeError) as error:
        raise refuse("foreign", f"{archive.filename} is no backup of a bench record.") from error
    sentence = f"{archive.filename} has form {form!r}; this version reads form {FORM}."
    raise refuse("other form", sentence)


def _sum(archive: zipfile.ZipFile, name: str) -> str:
    sha256 = hashlib.sha256()
    with archive.open(name) as content:
        while part := content.read(AT_ONCE):
            sha256.update(part)
    return sha256.hexdigest()


def sum_of(file: Path) -> str:
    with file.open("rb") as content:
        return hashlib.file_digest(content, "sha256").hexdigest()
