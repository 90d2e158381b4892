"""Whether an archive is whole: every file as its sums say, none missing, none added."""

from __future__ import annotations

import hashlib
import json
import zipfile
import zlib
from io import BytesIO
from typing import Any

from ..lookups.archives import FORM, SUMS

MANIFEST = "manifest.json"
DAMAGED = (
    zipfile.BadZipFile, zlib.error, RuntimeError, NotImplementedError, EOFError, OSError,
    ValueError,
)  # fmt: skip


def faults_in(content: bytes) -> list[str]:
    """A sentence for everything that is not as it was written; none for a whole archive."""
    try:
        with zipfile.ZipFile(BytesIO(content)) as archive:
            names = archive.namelist()
            files = {name: archive.read(name) for name in names}
    except DAMAGED as error:
        return [f"It cannot be opened, or a file in it is damaged: {error}."]
    if MANIFEST not in files or SUMS not in files:
        return [f"{MANIFEST} or {SUMS} is missing: this is no archive of a term."]
    twice = sorted({name for name in names if names.count(name) > 1})
    faults = [f"{name} stands in it twice." for name in twice]
    return faults + _against_sums(files) + _against_manifest(files)


def _against_sums(files: dict[str, bytes]) -> list[str]:
    said = {}
    for line in files[SUMS].decode(errors="replace").splitlines():
        sha256, _, name = line.partition("  ")
        said[name] = sha256
    faults = [f"{name} is missing." for name in sorted(said.keys() - files.keys())]
    faults += [f"{name} was added." for name in sorted(files.keys() - said.keys() - {SUMS})]
    changed = [
        name for name in sorted(said.keys() & files.keys()) if _sum(files[name]) != said[name]
    ]
    return faults + [f"{name} is not as it was written." for name in changed]


def _against_manifest(files: dict[str, bytes]) -> list[str]:
    """The manifest carries the sums once more: both lists have to say the same."""
    try:
        manifest: dict[str, Any] = json.loads(files[MANIFEST])
        said = {name: one["sha256"] for name, one in manifest["files"].items()}
        form = manifest["form"]
    except (ValueError, KeyError, TypeError, AttributeError):
        return [f"{MANIFEST} cannot be read."]
    if form != FORM:
        return [f"It has form {form!r}; this version reads form {FORM}."]
    found = {name: _sum(content) for name, content in files.items() if name not in (MANIFEST, SUMS)}
    return [] if found == said else [f"{MANIFEST} does not say the same as the files."]


def _sum(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
