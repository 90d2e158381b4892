"""Files into one archive whose bytes are the same whenever it is made."""

from __future__ import annotations

import hashlib
import re
import zipfile
from collections.abc import Mapping
from datetime import UTC, datetime
from io import BytesIO

MANIFEST = "SHA256SUMS"


def archived(files: Mapping[str, bytes], at: datetime) -> bytes:
    """A zip with the files in order of their names, all dated ``at``, and their checksums.

    ``sha256sum -c SHA256SUMS`` verifies what was unpacked.
    """
    listed = dict(sorted(files.items()))
    listed[MANIFEST] = checksums(listed)
    packed = BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, content in listed.items():
            archive.writestr(_entry(name, at), content, zipfile.ZIP_DEFLATED, 9)
    return packed.getvalue()


def checksums(files: Mapping[str, bytes]) -> bytes:
    lines = (f"{hashlib.sha256(c).hexdigest()}  {name}\n" for name, c in files.items())
    return "".join(lines).encode()


def _entry(name: str, at: datetime) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, at.astimezone(UTC).timetuple()[:6])
    entry.create_system = 3  # names are UTF-8, whatever system packs them
    entry.external_attr = 0o644 << 16
    return entry


def undated(archive: bytes, at: datetime, moment: re.Pattern[bytes]) -> bytes:
    """An archive that somebody else wrote, dated ``at``, without the moments written inside."""
    packed = BytesIO()
    with zipfile.ZipFile(BytesIO(archive)) as old, zipfile.ZipFile(packed, "w") as new:
        for name in old.namelist():
            content = moment.sub(b"", old.read(name))
            new.writestr(_entry(name, at), content, zipfile.ZIP_DEFLATED, 9)
    return packed.getvalue()
