"""Marking one hand-in: the descriptors to tick, beside the work as it was handed in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect

from ..access import may, require
from ..actions import marking as actions
from ..exchange.package.delivery import DeliveredRun, Delivery, delivery_of
from ..exchange.package.report import Row, rows_of
from ..forms.marking import SentMark, read_mark
from ..lookups.blinding import Veil, blind_numbers, in_plain_sight, veil_over
from ..lookups.hand_comparison import Comparison
from ..lookups.handed_in import SheetField, comparison_in, said_in, sheet_parts
from ..lookups.handing_in import changes_between, hand_ins_of
from ..lookups.marking import (
    asked_by,
    earlier_own,
    hand_ins_to_mark,
    is_anonymous,
    is_shared,
    listed,
    own_mark,
    parts_of,
    seen_in,
    state_seen,
)
from ..lookups.snapshots import Record, snapshot_of, unpacked
from ..lookups.spread import Spread, spread_of
from ..models import Account, HandIn, Mark, Role
from ..parts import page
from ..plots.spread import Marker
from ..plots.spread import spread as spread_figure
from ..plots.thermogram import thermogram
from ..problems import Refused
from ..problems.marking import with_scheme
from ..requests import SignedIn
from ..typesetting.numbers import set_points


def name_of(hand_in: HandIn, account: Account) -> str:
    """What this marker knows it by."""
    if is_anonymous(hand_in, account):
        return f"Number {blind_numbers(hand_in.group.section.term)[hand_in.group_id]}"
    return f"Group {hand_in.group.code}"


def hand_in_or_404(request: SignedIn, pk: int) -> HandIn:
    require(request.user, "mark")
    found: HandIn = get_object_or_404(hand_ins_to_mark(request.user), pk=pk)
    return found


@dataclass(frozen=True)
class RunRead:
    """A run as its marker reads it."""

    number: int
    title: str
    opened: datetime
    state: str
    cause: str
    comparison: Comparison | None
    results: list[Row]


def mark_hand_in(request: SignedIn, pk: int) -> HttpResponse:
    """The ticks first; once they are saved, the points they come to."""
    hand_in = hand_in_or_404(request, pk)
    if request.htmx and "since" in request.GET:
        return page(request, "marking/hand_in.html", _since(request, hand_in), part="since")
    if request.method != "POST":
        return page(request, "marking/hand_in.html", _context(request, hand_in))
    sent = read_mark(request.POST)
    try:
        mark = actions.mark_hand_in(
            hand_in, sent.ticked, sent.remark, seen=sent.seen, counts=sent.counts, by=request.user
        )
    except Refused as refused:
        context = _context(request, hand_in, sent) | {"problems": refused.problems}
        status = 409 if any(one.code == "stale" for one in refused.problems) else 422
        return page(request, "marking/hand_in.html", context, status=status)
    out_of = f"{set_points(mark.points)} of {set_points(mark.out_of)}"
    messages.success(request, f"Kept, and the points applied: {out_of}.")
    return redirect("mark_hand_in", hand_in.pk)


def _context(request: SignedIn, hand_in: HandIn, sent: SentMark | None = None) -> dict[str, Any]:
    """``sent`` is what was refused: it stays as it was ticked and written."""
    account, own = request.user, own_mark(hand_in, request.user)
    delivery = delivery_of(hand_in, None)
    veil = _veil(request, hand_in, delivery.record)
    return {
        "hand_in": hand_in,
        "section": hand_in.group.section,
        "name": name_of(hand_in, account),
        "anonymous": is_anonymous(hand_in, account),
        "is_own_section": may(account, "mark", hand_in),
        "is_shared": is_shared(hand_in),
        "decides_whether_it_counts": is_shared(hand_in) and account.role == Role.COORDINATOR,
        "own": own,
        "runs": _runs(delivery, veil),
        "missing": [veil(sentence) for sentence in hand_in.missing],
        "words": veil(hand_in.words),
        "against": with_scheme(hand_in.group.section.term),
        **_form(hand_in, account, own, sent),
        "newer": _newer(hand_in),
        **(_since(request, hand_in) if "since" in request.GET else {}),
        **_others(hand_in, account, own),
    }


def _form(
    hand_in: HandIn, account: Account, own: Mark | None, sent: SentMark | None
) -> dict[str, Any]:
    """The ticks as sent, else as saved, else as this marker left them on an earlier version."""
    scheme = hand_in.group.section.term.mark_scheme
    if scheme is None:
        return {"parts": []}
    earlier = None if own else earlier_own(hand_in, account)
    ticked = sent.ticked if sent else seen_in(own or earlier)
    remark = own.remark if own else earlier.remark if earlier else ""
    return {
        "scheme": scheme,
        "parts": parts_of(asked_by(scheme, ticked)),
        "remark": sent.remark if sent else remark,
        "counts": sent.counts if sent else bool(own and not own.is_shared_sample),
        "seen": state_seen(scheme, own),
        "earlier": earlier,
        "given": parts_of(own.ticks) if own else [],
    }


def _runs(delivery: Delivery, veil: Veil) -> list[RunRead]:
    results: dict[int, list[Row]] = {}
    for row in rows_of(delivery):
        results.setdefault(row.run.number, []).append(row)
    records = delivery.record["runs"]
    return [
        RunRead(
            number=run["number"],
            title=veil(run["title"]),
            opened=datetime.fromisoformat(run["evidence"]["run"]["opened_at"]),
            state=run["state"],
            cause=run["cause"],
            comparison=comparison_in(run, [other for other in records if other is not run]),
            results=results.get(run["number"], []),
        )
        for run in records
    ]


def _newer(hand_in: HandIn) -> HandIn | None:
    return hand_ins_of(hand_in.group).filter(version__gt=hand_in.version).first()


def _since(request: SignedIn, hand_in: HandIn) -> dict[str, Any]:
    """What the group changed since; asked for by itself, since it takes the whole record anew."""
    record = unpacked(hand_in.record)
    veil = _veil(request, hand_in, record)
    changes = [] if _newer(hand_in) else changes_between(record, snapshot_of(hand_in.group))
    return {
        "hand_in": hand_in,
        "newer": _newer(hand_in),
        "is_compared": True,
        "changes": [veil(change) for change in changes],
    }


def _veil(request: SignedIn, hand_in: HandIn, record: Record) -> Veil:
    anonymous = is_anonymous(hand_in, request.user)
    return veil_over(hand_in, record) if anonymous else in_plain_sight


def _others(hand_in: HandIn, account: Account, own: Mark | None) -> dict[str, Any]:
    """Who else marked it; how, only once this marker's own ticks are saved."""
    others = [mark for mark in spread_of(hand_in).marks if mark.by_id != account.pk]
    own_section = may(account, "mark", hand_in)
    waiting = listed(hand_in.group.section, account).waiting if own_section else []
    return {
        "others": others,
        "may_compare": bool(own) or account.role == Role.COORDINATOR,
        "following": next((one for one in waiting if one.hand_in.pk != hand_in.pk), None),
    }


def handed_in_run(request: SignedIn, pk: int, number: int) -> HttpResponse:
    """The curve and the sheet of one run as they were handed in."""
    hand_in = hand_in_or_404(request, pk)
    delivery = delivery_of(hand_in, None)
    run = next((one for one in delivery.runs if one.number == number), None)
    if run is None:
        raise Http404
    veil = _veil(request, hand_in, delivery.record)
    context = {
        "hand_in": hand_in,
        "section": hand_in.group.section,
        "name": name_of(hand_in, request.user),
        "number": number,
        "curve": f"curve-{number}",
        "title": veil(run.record["title"]),
        "figure": _curve(run),
        "sheet": _veiled(sheet_parts(run.record), veil),
        "said": [veil(sentence) for sentence in said_in(run.record)],
    }
    return page(request, "marking/run.html", context, part="as_handed_in")


def _curve(run: DeliveredRun) -> Any:
    if not run.record["inputs"]["readings"]["time_s"]:
        return None
    return thermogram(*run.in_order_of_time(), run.outputs or None)


def _veiled(
    parts: list[tuple[str, list[SheetField]]], veil: Veil
) -> list[tuple[str, list[SheetField]]]:
    return [(title, [field.through(veil) for field in fields]) for title, fields in parts]


def marks_spread(request: SignedIn, pk: int) -> HttpResponse:
    """How far apart the markers of one hand-in are, for those who have marked it."""
    hand_in = hand_in_or_404(request, pk)
    own = own_mark(hand_in, request.user)
    sees = own is not None or request.user.role == Role.COORDINATOR
    found = spread_of(hand_in) if sees else Spread([], [])
    context = {
        "hand_in": hand_in,
        "section": hand_in.group.section,
        "name": name_of(hand_in, request.user),
        "sees": sees,
        "spread": found,
        "figure": _figure(found) if len(found.marks) > 1 else None,
    }
    return page(request, "marking/spread.html", context)


def _figure(found: Spread) -> Any:
    parts = [block.title for block in found.blocks]
    markers = [
        Marker(
            name=str(marker),
            percent=[_share(block.points[i], block.out_of[i]) for block in found.blocks],
            words=[
                f"{marker}, {block.title}: {set_points(block.points[i])} of "
                f"{set_points(block.out_of[i])}"
                for block in found.blocks
            ],
        )
        for i, marker in enumerate(found.markers)
    ]
    return spread_figure(parts, markers)


def _share(points: Decimal, out_of: Decimal) -> float | None:
    return float(100 * points / out_of) if out_of else None
