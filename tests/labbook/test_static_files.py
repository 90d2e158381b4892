"""Static files as a server keeps them: collected, fingerprinted, compressed."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.contrib.staticfiles.storage import staticfiles_storage
from django.core.management import call_command
from django.template.loader import render_to_string
from django.test import Client, override_settings

from labbook.exchange.paper.pdf import as_pdf

from .needs import needs_pango

BACKEND = "labbook.static_files.FingerprintedFiles"


@pytest.fixture(scope="module")
def collected(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    root = tmp_path_factory.mktemp("static")
    storages = {
        "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
        "staticfiles": {"BACKEND": BACKEND},
    }
    # The large script takes 30 s to compress; what is tested here is the same without it.
    with override_settings(STATIC_ROOT=root, STORAGES=storages, STATICFILES_DIRS=[]):
        call_command("collectstatic", interactive=False, verbosity=0)
        yield root


def test_every_script_and_style_is_named_by_its_content_and_compressed(collected: Path) -> None:
    for path in (collected / "labbook").glob("*.js"):
        if re.search(r"\.[0-9a-f]{12}\.js$", path.name):
            continue
        named = Path(
            staticfiles_storage.path(staticfiles_storage.stored_name(f"labbook/{path.name}"))
        )
        assert re.fullmatch(rf"{path.stem}\.[0-9a-f]{{12}}\.js", named.name)
        for other in re.findall(r'from "\./([^"]+)"', named.read_text()):
            assert re.search(r"\.[0-9a-f]{12}\.js$", other), (path.name, other)
            assert (named.parent / other).exists()
    assert list((collected / "labbook").glob("page.*.css.gz"))


@pytest.mark.usefixtures("collected")
def test_a_page_asks_for_fingerprinted_files_alone(client: Client) -> None:
    html = client.get("/api/v1/").content.decode() + render_to_string("404.html")
    asked = re.findall(r'(?:src|href)="(/static/[^"]+)"', html)
    assert asked and all(re.search(r"\.[0-9a-f]{12}\.\w+$", path) for path in asked)


@needs_pango
@pytest.mark.usefixtures("collected")
def test_a_pdf_finds_its_styles_under_their_fingerprints() -> None:
    style = staticfiles_storage.url("labbook/paper.css")
    page = f'<html><head><link rel="stylesheet" href="{style}"></head><body>x</body></html>'
    assert as_pdf(page, {}).startswith(b"%PDF")
