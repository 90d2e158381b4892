"""Samples: what is in the vials, for staff, and their reveal."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from ..access import may, require
from ..actions.samples import reveal_sample as reveal
from ..lookups.runs import visible_samples
from ..parts import page
from ..requests import SignedIn


def samples(request: SignedIn) -> HttpResponse:
    require(request.user, "see sample identity")
    rows = [
        (sample, may(request.user, "reveal sample", sample))
        for sample in visible_samples(request.user)
    ]
    return page(request, "samples/list.html", {"rows": rows})


@require_POST
def reveal_sample(request: SignedIn, pk: int) -> HttpResponse:
    require(request.user, "see sample identity")
    sample = get_object_or_404(visible_samples(request.user), pk=pk)
    reveal(sample, by=request.user)
    messages.success(request, f"Sample {sample} is revealed; its runs now show values per mole.")
    return redirect("samples")
