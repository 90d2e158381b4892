"""What a bare machine may lack; where it is asked for, a missing piece fails instead."""

from __future__ import annotations

import os
from ctypes.util import find_library

import pytest

from labbook.exchange.paper.pdf import PACKAGES

needs_pango = pytest.mark.skipif(
    find_library("pangoft2-1.0") is None and os.environ.get("LABBOOK_REQUIRE_BROWSER") != "1",
    reason=f"PDF needs the Debian packages {PACKAGES}",
)
