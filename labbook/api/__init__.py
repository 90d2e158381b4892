"""What programs may ask of the record: JSON under /api/v1/, described at /api/v1/openapi.json.

A subject is a module with a router; ``answers`` holds what all answers have in common.
"""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.urls import URLPattern, URLResolver

from .answers import RecordAPI
from .devices import router as devices
from .open_data import router as open_data

api = RecordAPI(
    title="Combustion bench record",
    version="1",
    description="Readings from a bench’s logger, by a token of that bench; and what is on record, "
    "to read, by a token with the rights of the account that made it.",
    docs_url=None,
    urls_namespace="api",
)
api.add_router("", devices)
api.add_router("", open_data)


def addresses() -> tuple[list[URLPattern | URLResolver], str, str]:
    """The API's addresses. Each asks for its own token, so that no sign-in page stands before it.

    CSRF needs no check: no cookie is looked at.
    """
    patterns, app, namespace = api.urls
    for pattern in patterns:
        if isinstance(pattern, URLPattern):
            pattern.callback = login_not_required(pattern.callback)
    return patterns, app, namespace
