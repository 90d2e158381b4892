"""Marking by section: what waits, giving out, the table for the course; a group’s own mark."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from .. import clock
from ..access import may, require
from ..actions import marking as actions
from ..exchange.tables import csv_response
from ..lookups.course_marks import MARK_COLUMNS, marks_of_section
from ..lookups.handing_in import groups_handing_in
from ..lookups.marking import (
    given_out,
    hand_ins_to_mark,
    listed,
    mark_given_to,
    marks_removed,
    sections_to_mark,
    shared_to_mark,
    with_hand_ins,
)
from ..models import Section
from ..parts import page
from ..problems import refuse_if_blocked
from ..problems.marking import with_giving_out, with_scheme, with_table
from ..requests import SignedIn
from .marking_page import name_of


def section_or_404(request: SignedIn, pk: int) -> Section:
    require(request.user, "mark")
    found: Section = get_object_or_404(sections_to_mark(request.user), pk=pk)
    return found


def marking(request: SignedIn) -> HttpResponse:
    """The sections to mark, and the hand-ins that several mark."""
    require(request.user, "mark")
    shared = [
        (name_of(hand_in, request.user), hand_in, done)
        for hand_in, done in shared_to_mark(request.user)
    ]
    context = {"sections": with_hand_ins(request.user), "shared": shared}
    return page(request, "marking/list.html", context)


def section_marks(request: SignedIn, pk: int) -> HttpResponse:
    section = section_or_404(request, pk)
    found, given = listed(section, request.user), given_out(section)
    context = {
        "section": section,
        "is_running": section.term.ends >= clock.today(),
        "listed": found,
        "against": with_scheme(section.term),
        "against_giving": with_giving_out(found),
        "against_table": with_table(found, request.user),
        "given": given,
        "to_give": found.not_in(given),
    }
    return page(request, "marking/section.html", context)


@require_POST
def give_marks_out(request: SignedIn, pk: int) -> HttpResponse:
    section = section_or_404(request, pk)
    actions.give_marks_out(section, seen=request.POST.get("seen", ""), by=request.user)
    messages.success(request, "Given out: each group sees the mark that stands now.")
    return redirect("section_marks", section.pk)


@never_cache
@require_POST
def section_marks_table(request: SignedIn, pk: int) -> HttpResponse:
    """Names with their points for the course system: made when asked for and kept nowhere."""
    section = section_or_404(request, pk)
    refuse_if_blocked(with_table(listed(section, request.user), request.user))
    return csv_response(f"section-{pk}-marks.csv", MARK_COLUMNS, marks_of_section(section))


@require_POST
def share_hand_in(request: SignedIn, pk: int) -> HttpResponse:
    found = get_object_or_404(hand_ins_to_mark(request.user).defer("record"), pk=pk)
    actions.share_hand_in(found, by=request.user)
    messages.success(request, "Every TA of the term may mark it now, each by themselves.")
    return redirect("mark_hand_in", found.pk)


def group_mark(request: SignedIn, pk: int) -> HttpResponse:
    """A group's mark as it was given out; nothing before that."""
    group = get_object_or_404(groups_handing_in(request.user), pk=pk)
    require(request.user, "see marks", group)
    context = {
        "group": group,
        "given": mark_given_to(group),
        "removed": marks_removed(group),
        "is_own": may(request.user, "hand in", group),
    }
    return page(request, "marking/group.html", context)
