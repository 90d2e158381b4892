"""Holding a bench while something about it is changed."""

from __future__ import annotations

from ..models import Bench


def hold_bench(bench: Bench) -> Bench:
    """The bench, locked until the transaction ends: two openings or changes at once queue up."""
    return Bench.objects.select_for_update().get(pk=bench.pk)
