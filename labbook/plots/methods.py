"""The rise by every method as rows of a table, each with its place on one common scale."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from labbook.typesetting.methods import METHODS

EDGE = 6.0  # per cent kept free on both sides, so that no dot is cut


@dataclass(frozen=True)
class MethodRow:
    method: str
    words: str
    rise_k: float | None
    at_s: float | None
    why: str
    used: bool
    from_used_mk: float | None = None
    place: float | None = None  # 0 to 100, the smallest rise at the left
    used_place: float | None = None


def method_rows(reduction: Mapping[str, Any]) -> list[MethodRow]:
    """One row a method, in the order of the reduction; those not computed say why."""
    used = reduction.get("rise_used") or {}
    rises = [found.get("rise_k") for found in reduction["rise"].values()]
    places = places_on_one_scale(rises)
    used_place = dict(zip(reduction["rise"], places, strict=True)).get(used.get("method", ""))
    return [
        MethodRow(
            method=method,
            words=METHODS[method],
            rise_k=found.get("rise_k"),
            at_s=found.get("at_s"),
            why=found.get("why") or "",
            used=method == used.get("method"),
            from_used_mk=_apart_mk(found.get("rise_k"), used.get("rise_k")),
            place=place,
            used_place=used_place,
        )
        for (method, found), place in zip(reduction["rise"].items(), places, strict=True)
    ]


def _apart_mk(rise_k: float | None, used_k: float | None) -> float | None:
    return None if rise_k is None or used_k is None else 1000 * (rise_k - used_k)


def places_on_one_scale(values: Sequence[float | None]) -> list[float | None]:
    """Per cent of the width; all in the middle where there is nothing to tell apart."""
    known = [value for value in values if value is not None]
    low, high = (min(known), max(known)) if known else (0.0, 0.0)
    width = high - low
    return [
        None if value is None else _place((value - low) / width if width else 0.5)
        for value in values
    ]


def _place(share: float) -> float:
    return round(EDGE + share * (100 - 2 * EDGE), 2)
