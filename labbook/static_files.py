"""Static files of a server: collected once, named by their content, compressed."""

from __future__ import annotations

from django.contrib.staticfiles.apps import StaticFilesConfig
from whitenoise.storage import CompressedManifestStaticFilesStorage


class CollectedFiles(StaticFilesConfig):
    """What no page loads is not collected: plotly's data and widgets, htmx's extensions."""

    ignore_patterns = [
        *StaticFilesConfig.ignore_patterns,
        "datasets",
        "templates",
        "widgetbundle.js",
        "ext",
        "htm?*-4*.js",
    ]


class FingerprintedFiles(CompressedManifestStaticFilesStorage):  # type: ignore[misc]  # untyped
    """Our scripts import each other: the names in them are fingerprinted too."""

    support_js_module_import_aggregation = True
