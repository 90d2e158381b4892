"""Samples: what is in the vials, for staff; who is given which; and their reveal.

Nothing here may be kept by a browser: the next one at it may be a student who presses Back.
"""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from .. import clock
from ..access import may, require
from ..actions import samples as actions
from ..forms.whole_numbers import read_whole_number
from ..lookups.issuing import Place, neighbours_alike, places_of, samples_to_give
from ..lookups.samples import sealed_lists, sections_to_issue, visible_samples
from ..models import Group, Sample
from ..parts import page
from ..requests import SignedIn
from .paper import Printed, send_printed


@never_cache
def samples(request: SignedIn) -> HttpResponse:
    require(request.user, "see sample identity")
    lists = sealed_lists(request.user)
    hidden = [sample for listed in lists for sample, _ in listed.rows if sample.is_hidden]
    mine = {sample.pk for sample in hidden if may(request.user, "reveal sample", sample)}
    context = {
        "lists": lists,
        "may_reveal": mine,
        "due": [sample for sample in hidden if sample.is_due and sample.pk in mine],
        "sections": sections_to_issue(request.user),
    }
    return page(request, "samples/list.html", context)


@never_cache
def sealed_list(request: SignedIn, pdf: bool = False) -> HttpResponse:
    """The list of the terms still running, to print and lock away."""
    require(request.user, "see sample identity")
    running = [listed for listed in sealed_lists(request.user) if not listed.is_over]
    context = {"lists": running, "printed_at": clock.now(), "printed_by": request.user}
    return send_printed(request, Printed("samples/sealed.html", "sealed-list", context), pdf=pdf)


@never_cache
def issue_samples(request: SignedIn, pk: int) -> HttpResponse:
    """Who is given which vial: labels alone, so that this page may lie on the bench."""
    require(request.user, "see sample identity")
    section = get_object_or_404(sections_to_issue(request.user), pk=pk)
    samples = samples_to_give(section)
    places = places_of(section, anew="anew" in request.GET)
    if request.method == "POST":
        chosen = _chosen(request, places, samples)
        made = actions.issue_samples(chosen, request.POST.get("reason", ""), by=request.user)
        messages.success(request, f"Issued: {len(made)} group(s) hold the sample chosen here.")
        return redirect("issue_samples", section.pk)
    context = {
        "section": section,
        "samples": samples,
        "places": places,
        "alike": neighbours_alike(places),
        "anew": "anew" in request.GET,
    }
    return page(request, "samples/issue.html", context)


def _chosen(
    request: SignedIn, places: list[Place], samples: list[Sample]
) -> list[tuple[Group, Sample]]:
    """What was chosen for each group of the section; a group left blank is left as it is."""
    by_number = {sample.pk: sample for sample in samples}
    chosen = []
    for place in places:
        number = read_whole_number(request.POST.get(f"group-{place.group.pk}", ""))
        if number in by_number:
            chosen.append((place.group, by_number[number]))
    return chosen


@require_POST
def reveal_sample(request: SignedIn, pk: int) -> HttpResponse:
    require(request.user, "see sample identity")
    sample = get_object_or_404(visible_samples(request.user), pk=pk)
    actions.reveal_sample(sample, by=request.user)
    messages.success(request, f"Sample {sample} is revealed; its runs now show values per mole.")
    return redirect("samples")


@require_POST
def reveal_due_samples(request: SignedIn) -> HttpResponse:
    require(request.user, "see sample identity")
    revealed = actions.reveal_due(by=request.user)
    labels = ", ".join(str(sample) for sample in revealed)
    messages.success(request, f"Revealed: {labels}." if labels else "No sample is due.")
    return redirect("samples")
