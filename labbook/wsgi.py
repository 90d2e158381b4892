"""The WSGI entry point for a production server."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from tempfile import SpooledTemporaryFile
from typing import IO, Any

from django.core.wsgi import get_wsgi_application

Environ = dict[str, Any]
Start = Callable[..., Any]
Application = Callable[[Environ, Start], Iterable[bytes]]

LARGEST, IN_MEMORY, PIECE = 32 * 2**20, 6 * 2**20, 2**16
BROKEN_OFF = (
    "The connection ended before all of it had come, so nothing of it was kept. Send it again."
)
TOO_LARGE = "More than 32 MB were sent at once, so nothing of it was read or kept."


def only_whole(application: Application) -> Application:
    """Hand a request on once all of it has come.

    A server gives what came before a connection broke off as if it were everything: half of a
    number would be kept as a reading.
    """

    def serve(environ: Environ, start: Start) -> Iterable[bytes]:
        length = str(environ.get("CONTENT_LENGTH") or "")
        expected = int(length) if length.isdecimal() else 0
        if expected > LARGEST:
            return _refuse(start, "413 Content Too Large", TOO_LARGE)
        with SpooledTemporaryFile(max_size=IN_MEMORY) as body:
            if not _copy(environ["wsgi.input"], body, expected):
                return _refuse(start, "400 Bad Request", BROKEN_OFF)
            body.seek(0)
            environ["wsgi.input"] = body
            return application(environ, start)

    return serve


def _copy(source: IO[bytes], body: IO[bytes], expected: int) -> bool:
    """Whether as much came as was announced."""
    left = expected
    while left and (piece := source.read(min(left, PIECE))):
        body.write(piece)
        left -= len(piece)
    return not left


def _refuse(start: Start, status: str, sentence: str) -> list[bytes]:
    content = sentence.encode()
    kind = ("Content-Type", "text/plain; charset=utf-8")
    start(status, [kind, ("Content-Length", str(len(content))), ("Connection", "close")])
    return [content]


os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labbook.settings")
application: Application = only_whole(get_wsgi_application())
