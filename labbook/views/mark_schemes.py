"""A mark scheme on one page: its parts with their points, one more descriptor, a copy of it."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from ..access import require
from ..actions import marking as actions
from ..forms.marking import NextDescriptorForm
from ..lookups.marking import asked_by, parts_of, points_of
from ..models import Descriptor, MarkScheme
from ..parts import page
from ..requests import SignedIn


def mark_scheme(request: SignedIn, pk: int) -> HttpResponse:
    require(request.user, "set up")
    scheme = get_object_or_404(MarkScheme, pk=pk)
    last = scheme.descriptors.filter(in_use=True).last()
    form = NextDescriptorForm(
        request.POST or None,
        instance=Descriptor(scheme=scheme),
        initial={"part": last.part if last else ""},
    )
    if request.method == "POST" and form.is_valid():
        made = actions.add_descriptor(form.save(commit=False), by=request.user)
        messages.success(request, f"Added: {made}.")
        return redirect("mark_scheme", scheme.pk)
    asked = asked_by(scheme)
    context = {
        "scheme": scheme,
        "form": form,
        "parts": parts_of(asked),
        "out_of": points_of(asked),
        "out_of_use": scheme.descriptors.filter(in_use=False),
        "terms": scheme.term_set.all(),
    }
    status = 422 if request.method == "POST" else 200
    return page(request, "marking/scheme.html", context, status=status)


@require_POST
def copy_mark_scheme(request: SignedIn, pk: int) -> HttpResponse:
    require(request.user, "set up")
    scheme = get_object_or_404(MarkScheme, pk=pk)
    copy = actions.copy_scheme(scheme, request.POST.get("name", ""), by=request.user)
    messages.success(request, f"Copied: {copy} has the same descriptors.")
    return redirect("mark_scheme", copy.pk)
