"""Before a section begins: its benches prepared and released, and who came."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.text import capfirst
from django.views.decorators.http import require_POST

from .. import clock
from ..actions import afternoons as actions
from ..cautions import PREPARATION
from ..forms.whole_numbers import read_whole_number
from ..lookups.afternoons import preparations_of
from ..lookups.attendance import find_students, seats_of
from ..lookups.bench_log import Upkeep, upkeep
from ..models import Attendance, Bench, BenchPreparation, Person, Section
from ..parts import page
from ..problems import Problem, Refused, refuse
from ..requests import SignedIn
from .section_afternoon import section_or_404


@dataclass(frozen=True)
class ToPrepare:
    bench: Bench
    upkeep: Upkeep
    preparation: BenchPreparation | None
    groups: str
    ticked: Sequence[str] = ()
    words: str = ""
    against: Sequence[Problem] = ()


def prepare_benches(request: SignedIn, pk: int) -> HttpResponse:
    section = section_or_404(request, pk)
    if request.method == "POST":
        return _prepare(request, section)
    return _benches_page(request, section, _to_prepare(request, section))


def _benches_page(
    request: SignedIn, section: Section, benches: list[ToPrepare], *, status: int = 200
) -> HttpResponse:
    context = {"section": section, "benches": benches, "checklist": PREPARATION}
    return page(request, "section/benches.html", context, status=status)


def _to_prepare(request: SignedIn, section: Section) -> list[ToPrepare]:
    booked: dict[Bench, list[str]] = {}
    for group in section.groups.select_related("bench").order_by("code"):
        if group.bench is not None:
            booked.setdefault(group.bench, []).append(group.code)
    needs = upkeep(request.user, booked)
    prepared = preparations_of(section, clock.today())
    return [
        ToPrepare(bench, needs[bench.pk], done, ", ".join(groups), done.ticked if done else ())
        for bench, groups in sorted(booked.items(), key=lambda item: item[0].code)
        for done in [prepared.get(bench.pk)]
    ]


def _prepare(request: SignedIn, section: Section) -> HttpResponse:
    sent = request.POST
    bench = get_object_or_404(Bench, code=sent.get("bench", ""))
    release = sent.get("release") == "yes"
    ticked, words = sent.getlist("ticked"), sent.get("words", "")
    try:
        actions.prepare_bench(section, bench, ticked, words, release=release, by=request.user)
    except Refused as refused:
        asked = [
            replace(one, ticked=ticked, words=words, against=refused.problems)
            if one.bench == bench else one
            for one in _to_prepare(request, section)
        ]  # fmt: skip
        if not any(one.against for one in asked):
            raise
        return _benches_page(request, section, asked, status=409)
    done = "is released for this afternoon" if release else "is kept as not released"
    messages.success(request, f"{capfirst(str(bench))} {done}.")
    return redirect("prepare_benches", section.pk)


def attendance(request: SignedIn, pk: int) -> HttpResponse:
    section = section_or_404(request, pk)
    if request.method == "POST":
        return _mark(request, section)
    wanted = request.GET.get("find", "")
    context = {
        "section": section,
        "today": clock.today(),
        "seats": seats_of(section, clock.today()),
        "came": Attendance.Came.choices,
        "wanted": wanted,
        "students": find_students(section, wanted),
        "earlier": section.attendances.filter(on=clock.today()).select_related(
            "person", "group", "by"
        ),
    }
    return page(request, "section/people.html", context)


def _mark(request: SignedIn, section: Section) -> HttpResponse:
    """Only what was changed on the page counts: what another TA marked meanwhile stays."""
    sent = request.POST
    rest = Attendance.Came.PRESENT.value if sent.get("others") == "present" else ""
    came: dict[int, str] = {}
    for key in sent:
        number = read_whole_number(key.removeprefix("was-"))
        if number is not None:
            came[number] = sent.get(f"came-{number}", "") or sent[key] or rest
    came = {n: mark for n, mark in came.items() if mark != sent[f"was-{n}"]}
    new = actions.mark_attendance(section, came, by=request.user)
    messages.success(request, f"{new} mark{'' if new == 1 else 's'} saved.")
    return redirect("attendance", section.pk)


@require_POST
def seat_person(request: SignedIn, pk: int) -> HttpResponse:
    """Let somebody work with another group, for today or for good."""
    section, sent = section_or_404(request, pk), request.POST
    person = Person.objects.filter(pk=read_whole_number(sent.get("person", "")) or 0).first()
    group = section.groups.filter(pk=read_whole_number(sent.get("group", "")) or 0).first()
    if person is None or group is None:
        raise refuse("person", "Choose who moves, and to which group.", "person")
    for_good = sent.get("how") == "for good"
    actions.seat_person(
        section, person, group, sent.get("words", ""), for_good=for_good, by=request.user
    )
    how = "for good, from today" if for_good else "for today"
    messages.success(request, f"{person} works with group {group} {how}.")
    return redirect("attendance", section.pk)
