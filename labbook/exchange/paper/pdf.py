"""A page of the record as PDF. Nothing is fetched: it finds the record's style sheets, no more."""

from __future__ import annotations

import re
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

from django.conf import settings
from django.contrib.staticfiles import finders

PACKAGES = "libpangoft2-1.0-0 libharfbuzz-subset0"
NOWHERE = "http://record.invalid/"  # what addresses on the page are read against


class PdfUnavailable(Exception):
    """Libraries that PDF needs are not installed on this server; says which."""


def as_pdf(page: str, styles: dict[str, str]) -> bytes:
    """A page as PDF; ``styles`` are style sheets that are no files, by their address."""
    weasyprint = _weasyprint()
    fetcher = _fetcher(weasyprint, styles)
    try:
        made: bytes = weasyprint.HTML(
            string=page, base_url=NOWHERE, url_fetcher=fetcher
        ).write_pdf()
    except weasyprint.urls.FatalURLFetchingError as error:
        # Not an Exception there: it would end the process that serves the page.
        raise ValueError(str(error)) from error
    return made


def _weasyprint() -> Any:
    """Imported when first asked for: it takes half a second, and libraries that may be missing."""
    try:
        with redirect_stdout(StringIO()):  # it prints advice of its own
            import weasyprint
    except OSError as error:
        _, _, named = str(error).partition("'")
        library = named.partition("'")[0] or str(error)
        raise PdfUnavailable(
            f"This server cannot make PDF: its library {library} is missing. Print the page from "
            "the browser; it is the same sheet. The administrator can put in what is missing; on "
            f"Debian: apt-get install {PACKAGES}"
        ) from error
    return weasyprint


def _fetcher(weasyprint: Any, styles: dict[str, str]) -> Any:
    class OwnStylesOnly(weasyprint.urls.URLFetcher):  # type: ignore[misc]  # imported late
        def fetch(self, url: str, headers: Any = None) -> Any:
            path = unquote(urlsplit(url).path)
            text = styles[path] if path in styles else _static_style(path)
            kind = {"Content-Type": "text/css"}
            return weasyprint.urls.URLFetcherResponse(url, text.encode(), kind)

    return OwnStylesOnly(fail_on_errors=True)


def _static_style(path: str) -> str:
    """A style sheet of ours; a collected one has a fingerprint in its name."""
    plain = re.sub(r"\.[0-9a-f]{12}\.css$", ".css", path)
    found = finders.find(plain.removeprefix(settings.STATIC_URL))
    if not isinstance(found, str) or not path.endswith(".css"):
        raise ValueError(f"{path} is no style sheet of the record")
    return Path(found).read_text()
