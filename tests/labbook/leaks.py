"""Looking for a sample's identity in whatever leaves: pages, parts, files, archives, headers."""

from __future__ import annotations

import re
import unicodedata
import zipfile
from collections.abc import Iterator
from html import unescape
from io import BytesIO
from urllib.parse import unquote

from django.http import HttpResponseBase

INLINE = re.compile(r"</?(?:sub|sup|span|mi|mn|mo|mrow|msub|msup|mstyle|i|b|em|strong)\b[^>]*>")
TAG = re.compile(r"<[^>]*>")
ESCAPED = re.compile(r"\\u([0-9a-fA-F]{4})")


def number(*roundings: str) -> str:
    """A pattern for a number as written anywhere: point or comma, thousands apart or not."""
    written = "|".join(
        re.sub(r"(\d)(\d{3})(?!\d)", r"\1[ ,]?\2", rounded, count=1).replace(".", "[.,]")
        for rounded in roundings
    )
    return rf"(?<![\d.,])(?:{written})(?!\d)"


# What the builder's hidden sample is; IUPAC abridged weights: 10 × 12.011 + 8 × 1.008 = 128.174.
# The molar energy is the literature value less Δn·RT, −5156.15 + 2 × 2.479, also per gram.
IN_WORDS = {
    "name": re.compile("naphthalene|naphthalin", re.IGNORECASE),
    "registry number": re.compile("91-20-3"),
    "citation": re.compile("Coleman|Pilcher", re.IGNORECASE),
    "lot": re.compile("KX-?7731", re.IGNORECASE),
    "density": re.compile(number("1.617")),
    "molar mass": re.compile(number("128.174", "128.17", "128.2")),
    "literature value": re.compile(number("5156.15", "5156.1", "5156.2", "5156", "5151.19")),
    "heat per gram": re.compile(number("40189", "40227", "40228")),
}
FORMULA = re.compile("C10H8", re.IGNORECASE)


def found_in(text: str) -> set[str]:
    """Which facts of the hidden sample a text tells, in any way of writing them."""
    plain = ESCAPED.sub(lambda match: chr(int(match[1], 16)), unescape(unquote(text)))
    plain = unicodedata.normalize("NFKC", plain)
    apart = TAG.sub(" ", INLINE.sub("", plain))
    told = {fact for fact, pattern in IN_WORDS.items() if pattern.search(plain + apart)}
    run_together = re.sub(r"\s|\u200b|\u2062", "", TAG.sub("", plain))
    return told | ({"formula"} if FORMULA.search(run_together) else set())


def texts_of(content: bytes, name: str = "") -> Iterator[str]:
    """Everything readable in a body; of an archive, each member with its name."""
    yield name
    if content.startswith(b"PK\x03\x04"):
        with zipfile.ZipFile(BytesIO(content)) as archive:
            for member in archive.namelist():
                yield from texts_of(archive.read(member), member)
        return
    assert not content.startswith(b"%PDF"), "a PDF cannot be read here: hand out its page instead"
    yield content.decode("utf-8", errors="replace")


def body_of(response: HttpResponseBase) -> bytes:
    if response.streaming:
        return b"".join(response.streaming_content)
    return response.content


def told_by(response: HttpResponseBase) -> set[str]:
    """Which facts an answer tells: in its body, its headers, its file name or its cookies."""
    headers = [f"{name}: {value}" for name, value in response.headers.items()]
    cookies = [morsel.OutputString() for morsel in response.cookies.values()]
    texts = [*headers, *cookies, *texts_of(body_of(response))]
    return set().union(*(found_in(text) for text in texts))
