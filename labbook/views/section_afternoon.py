"""A section's afternoon for its TA: all its benches at a glance, and what is open at the end."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from .. import clock
from ..access import require
from ..actions import afternoons as actions
from ..actions.runs import set_run_aside, sign_run
from ..lookups.afternoons import (
    Place,
    fingerprint_of_afternoon,
    places_of,
    visible_sections,
    with_newest,
)
from ..lookups.runs import visible_runs
from ..models import Run, Section
from ..parts import page
from ..problems import LOCK_WORDS, Said, left_open, said_by
from ..requests import SignedIn
from ..typesetting.durations import ago

MINUTE = timedelta(minutes=1)


def section_or_404(request: SignedIn, pk: int) -> Section:
    require(request.user, "look after section")
    return get_object_or_404(visible_sections(request.user), pk=pk)


def sections(request: SignedIn) -> HttpResponse:
    """The sections to choose from; the only one there is, at once."""
    require(request.user, "look after section")
    found = list(visible_sections(request.user))
    if len(found) == 1:
        return redirect("section", found[0].pk)
    return page(request, "section/list.html", {"sections": found})


@dataclass(frozen=True)
class RunLine:
    """A run as the page tells it: how long it has been going on, and what it says."""

    run: Run
    said: Said | None
    elapsed: str

    @property
    def locks(self) -> str:
        locked = self.said.locked if self.said else []
        return ", ".join(dict.fromkeys(LOCK_WORDS[limit.lock] for limit in locked))

    @property
    def may_be_set_aside(self) -> bool:
        put_in = self.run.standardization
        in_approved = put_in is not None and put_in.state == put_in.State.APPROVED
        return self.run.state != Run.State.SET_ASIDE and not in_approved


@dataclass(frozen=True)
class Tile:
    place: Place
    lines: list[RunLine]


def section(request: SignedIn, pk: int) -> HttpResponse:
    """Asked again every few seconds: nothing is sent while nothing has changed."""
    require(request.user, "look after section")
    found = get_object_or_404(with_newest(visible_sections(request.user)), pk=pk)
    seen = fingerprint_of_afternoon(found)
    if request.htmx and request.GET.get("seen") == seen:
        return HttpResponse(status=204)
    tiles = list(_tiles(found))
    context = {
        "section": found,
        "seen": seen,
        "tiles": tiles,
        "causes": Run.Cause.choices,
        "at": clock.now(),
        **_waiting(tiles),
    }
    return page(request, "section/detail.html", context, part="tiles")


def _tiles(section: Section) -> Iterator[Tile]:
    places = places_of(section)
    said = said_by(section, (run for place in places for run in place.runs))
    now = clock.now()
    for place in places:
        lines = [RunLine(run, said.get(run.pk), _elapsed(run, now)) for run in place.runs]
        yield Tile(place, lines)


def _elapsed(run: Run, now: datetime) -> str:
    """Since it was fired, or opened; nothing once it is finished."""
    if run.is_finished:
        return ""
    since, words = (run.fired_at, "fired") if run.fired_at else (run.opened_at, "opened")
    whole = (now - since) // MINUTE * MINUTE
    return f"{words} {ago(whole)} ago" if whole else f"{words} just now"


def _waiting(tiles: list[Tile]) -> dict[str, int]:
    """How many things wait for the TA."""
    lines = [line for tile in tiles for line in tile.lines]
    return {
        "to_decide": sum(len(tile.place.put_forward) for tile in tiles),
        "to_unlock": sum(bool(line.said and line.said.locked) for line in lines),
        "to_sign": sum(line.run.state == Run.State.COMPLETE for line in lines),
    }


@require_POST
def section_deed(request: SignedIn, pk: int, run: int, deed: str) -> HttpResponse:
    """Sign a sheet or set a run aside without leaving the section's page."""
    section = section_or_404(request, pk)
    found = get_object_or_404(visible_runs(request.user), pk=run, group__section=section)
    if deed == "sign":
        signed = sign_run(found, by=request.user)
        messages.success(request, f"{signed.group}, {signed}: signed.")
    elif deed == "set-aside":
        sent = request.POST
        set_run_aside(found, sent.get("cause", ""), sent.get("remark", ""), by=request.user)
        messages.success(request, f"{found.group}, {found}: set aside. It stays visible.")
    else:
        raise Http404
    is_from_end = request.POST.get("from") == "end"
    return redirect("hand_over" if is_from_end else "section", section.pk)


def hand_over(request: SignedIn, pk: int) -> HttpResponse:
    """What is open at the end: to sign, to finish, and to leave to whoever comes next."""
    section = section_or_404(request, pk)
    if request.method == "POST":
        actions.hand_over(section, request.POST.get("words", ""), by=request.user)
        messages.success(request, "Handed over: the next TA and the coordinator see it.")
        return redirect("hand_over", section.pk)
    unsigned = visible_runs(request.user).filter(group__section=section, state=Run.State.COMPLETE)
    context = {
        "section": section,
        "unsigned": unsigned.order_by("completed_at"),
        "items": left_open(section),
        "handovers": section.handovers.select_related("by")[:5],
    }
    return page(request, "section/end.html", context)
