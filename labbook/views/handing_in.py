"""A group's handing in: what is missing, the versions handed in, and what can be taken away."""

from __future__ import annotations

import mimetypes
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_POST

from ..access import may
from ..actions import handing_in as actions
from ..exchange.package.contents import contents, package
from ..exchange.package.delivery import Delivery, delivery_of
from ..exchange.package.report import rows_of
from ..forms.whole_numbers import read_whole_number
from ..lookups.fingerprints import Fingerprint
from ..lookups.handing_in import (
    changes_between,
    groups_handing_in,
    hand_ins_of,
    members_of,
    package_name,
)
from ..lookups.marking import mark_given_to, marks_openly
from ..lookups.snapshots import snapshot_of, unpacked
from ..models import Group, HandIn, Person
from ..parts import page
from ..problems import refuse
from ..problems.handing_in import with_handing_in
from ..requests import SignedIn


def group_or_404(request: SignedIn, pk: int) -> Group:
    found: Group = get_object_or_404(groups_handing_in(request.user), pk=pk)
    return found


def handing_in(request: SignedIn, pk: int) -> HttpResponse:
    return page(request, "handing_in/group.html", _context(request, group_or_404(request, pk)))


def _context(request: SignedIn, group: Group) -> dict[str, Any]:
    against = with_handing_in(group)
    newest = group.hand_ins.first()
    changes = changes_between(unpacked(newest.record), snapshot_of(group)) if newest else []
    blocks = any(problem.severity == "B" for problem in against)
    may_hand_in = may(request.user, "hand in", group)
    return {
        "group": group,
        "against": against,
        "versions": hand_ins_of(group),
        "newest": newest,
        "changes": changes,
        "can_hand_in": may_hand_in and not blocks and (newest is None or bool(changes)),
        "members": members_of(group) if may_hand_in else [],
        "given": mark_given_to(group),
        "is_marked_openly": marks_openly(request.user, group),
    }


@require_POST
def hand_in(request: SignedIn, pk: int) -> HttpResponse:
    group = group_or_404(request, pk)
    words, person = request.POST.get("words", ""), _person(group, request.POST.get("person", ""))
    made = actions.hand_in(group, words, by=request.user, entered_by=person)
    messages.success(request, f"Handed in as version {made.version}. It stays as it is now.")
    return redirect("hand_in_version", group.pk, made.version)


def _person(group: Group, text: str) -> Person | None:
    if not text:
        return None
    number = read_whole_number(text)
    person = members_of(group).filter(pk=number).first() if number is not None else None
    if person is None:
        raise refuse("member", "Choose somebody of your own group from the list.", "person")
    return person


def _delivery(request: SignedIn, pk: int, version: int) -> Delivery:
    """Staff get the whole; a group what it may see by now."""
    group = group_or_404(request, pk)
    found = get_object_or_404(HandIn.objects.select_related("group"), group=group, version=version)
    return delivery_of(found, request.user)


def hand_in_version(request: SignedIn, pk: int, version: int) -> HttpResponse:
    delivery, group = _delivery(request, pk, version), group_or_404(request, pk)
    names = list(contents(delivery))
    context = {
        "group": group,
        "is_marked_openly": marks_openly(request.user, group),
        "hand_in": delivery.hand_in,
        "delivery": delivery,
        "mark": Fingerprint(delivery.hand_in.record_sha256),
        "rows": rows_of(delivery),
        "shared": [name for name in names if not name.startswith("run-")],
        "runs": [
            (run, [(name.removeprefix(f"run-{run.number}/"), name) for name in _own(names, run)])
            for run in delivery.runs
        ],
    }
    return page(request, "handing_in/version.html", context)


def _own(names: list[str], run: Any) -> list[str]:
    return [name for name in names if name.startswith(f"run-{run.number}/")]


def hand_in_package(request: SignedIn, pk: int, version: int) -> HttpResponse:
    delivery = _delivery(request, pk, version)
    return _attached(package(delivery), package_name(delivery.hand_in))


def package_file(request: SignedIn, pk: int, version: int, name: str) -> HttpResponse:
    """One file of the package, for a report."""
    made = contents(_delivery(request, pk, version)).get(name)
    if made is None:
        raise Http404
    return _attached(made(), name.replace("/", "-"))


def _attached(content: bytes, name: str) -> HttpResponse:
    kind = mimetypes.guess_type(name)[0] or "application/octet-stream"
    response = HttpResponse(content, content_type=kind)
    response["Content-Disposition"] = content_disposition_header(True, name)
    return response
