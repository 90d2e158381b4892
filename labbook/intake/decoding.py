"""Bytes to text: byte-order marks, UTF-8, UTF-16 with or without a mark, single-byte encodings."""

import codecs
import re
from dataclasses import dataclass

from charset_normalizer import from_bytes

from labbook.intake.report import Refusal

MAX_BYTES = 5 * 1024 * 1024

# The longer marks first: the UTF-32 mark begins with the UTF-16 one.
BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
# First bytes of files that are often handed in by mistake.
OTHER_FILES = (
    (b"PK\x03\x04", "a zip container, as spreadsheet workbooks are"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet or word-processor document"),
    (b"%PDF", "a PDF document"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"\x1f\x8b", "a compressed file"),
)
WIDE = ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32"]
SINGLE_BYTE = ["cp1252", "latin_1", "iso8859_2", "cp1250", "cp850", "mac_roman"]
ENCODINGS = (*WIDE, *SINGLE_BYTE)
CONTROLS = re.compile("[\x00-\x08\x0e-\x19\x1b-\x1f\x7f]")
EXPORT_AS_TEXT = "Export the readings as text (CSV or tab-separated) and hand that in."


@dataclass(frozen=True)
class Text:
    """A decoded file; `encoding` is the name under which it was read."""

    encoding: str
    text: str


def decode(data: bytes, encoding: str | None) -> Text:
    """Turn the bytes into text or refuse them as too big, empty or not text."""
    if len(data) > MAX_BYTES:
        raise Refusal(
            f"The file has {len(data) / 1024 / 1024:.1f} MB; at most 5 MB are read. "
            "Cut it to the run's own readings, or log less often."
        )
    if not data.strip(b" \t\r\n\x00"):
        raise Refusal("The file is empty. Expected one reading a line, with a time.")
    for start, words in OTHER_FILES:
        if data.startswith(start):
            raise Refusal(f"The file is {words}, not text. {EXPORT_AS_TEXT}")
    name = _known(encoding) if encoding else _encoding_of(data)
    text = _decoded(data, name).removesuffix("\x1a")
    if not text.strip():
        raise Refusal("The file has no text in it. Expected one reading a line, with a time.")
    found = CONTROLS.search(text)
    if found:
        line = text.count("\n", 0, found.start()) + 1
        raise Refusal(
            f"The file is not plain text: line {line} has the control character "
            f"{ord(found.group()):#04x}. It is binary or was damaged. {EXPORT_AS_TEXT}"
        )
    return Text(name, text)


def _known(encoding: str) -> str:
    """The name under which a chosen encoding is read here, whatever its spelling."""
    for name in ENCODINGS:
        try:
            if codecs.lookup(encoding) == codecs.lookup(name):
                return name
        except (LookupError, ValueError):
            break
    raise Refusal(f"“{encoding}” cannot be chosen. Encodings are: {', '.join(ENCODINGS)}.")


def _encoding_of(data: bytes) -> str:
    for mark, name in BYTE_ORDER_MARKS:
        if data.startswith(mark):
            return name
    wide = _utf16_without_mark(data)
    if wide:
        return wide
    try:
        data.decode("utf-8")
    except UnicodeDecodeError as error:
        # A file cut inside its last character is still UTF-8.
        cut = error.reason == "unexpected end of data" and error.end == len(data)
        return "utf-8" if cut else _single_byte(data)
    return "utf-8"


def _utf16_without_mark(data: bytes) -> str | None:
    """Digits and separators in UTF-16 have a zero as every second byte."""
    head = data[:4096]
    half = max(len(head) // 2, 1)
    even, odd = head[0::2].count(0) / half, head[1::2].count(0) / half
    if odd > 0.7 and even < 0.1:
        return "utf-16-le"
    if even > 0.7 and odd < 0.1:
        return "utf-16-be"
    return None


def _single_byte(data: bytes) -> str:
    """Only names and the degree sign hang on this; figures are ASCII in all of these."""
    if re.search(rb"\xb0 ?[CFK]\b|[\[(]\xb0", data):
        name = "cp1252"
    else:
        lines = [line for line in data.splitlines() if not line.isascii()]
        best = from_bytes(b"\n".join(lines)[:20_000], cp_isolation=SINGLE_BYTE).best()
        name = best.encoding if best else "latin_1"
    try:
        data.decode(name)
    except UnicodeDecodeError:
        return "latin_1"
    return name


def _decoded(data: bytes, encoding: str) -> str:
    try:
        decoder = codecs.getincrementaldecoder(encoding)("strict")
        # Not final: half a character at the very end means a cut file, not a wrong encoding.
        text = decoder.decode(data, final=False)
    except UnicodeError as error:
        raise Refusal(
            f"The file cannot be read as {encoding} ({error}). "
            "Choose another encoding, or export it as UTF-8."
        ) from None
    return text.removeprefix("\ufeff")
