"""A logger's file: kept at once, shown as it was understood, used on request."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_POST
from django_htmx.http import HttpResponseClientRedirect

from ..access import may
from ..actions import files as actions
from ..forms.logger_file import FiringQuestion, choices_from, firing_question, items_of
from ..intake import Choices, Preview, Refusal, preview
from ..lookups.file_choices import choices_for, remembered_for
from ..lookups.file_firings import FileUse, firings_in, readings_in, uses_elsewhere
from ..lookups.readings import readings_of
from ..lookups.runs import visible_files
from ..models import LoggerFile, Run
from ..parts import page
from ..plots.thermogram import thermogram
from ..problems import Problem, refuse
from ..requests import SignedIn
from .runs import run_or_404
from .steps import steps_of
from .writers import writer_of

LARGEST_FILE = 5 * 1024 * 1024


@require_POST
def hand_in_file(request: SignedIn, pk: int) -> HttpResponse:
    """Keep the file's bytes at once; what is made of them is decided on the next page."""
    run = run_or_404(request, pk)
    sent = request.FILES.get("file")
    if sent is None:
        raise refuse("no file", "No file was sent. Choose the logger’s file first.", "file")
    name, size = sent.name or "file", sent.size or 0
    if size > LARGEST_FILE:
        sentence = f"{name} has {size / 2**20:.1f} MB; at most 5 MB are taken. Cut it to this run."
        raise refuse("too large", sentence, "file")
    file = actions.keep_file(run, name, sent.read(), by=request.user)
    address = reverse("file", args=[file.pk])
    return HttpResponseClientRedirect(address) if request.htmx else redirect(address)


@dataclass(frozen=True)
class Understanding:
    """What was made of a file with the choices sent: a preview, or the refusal."""

    choices: Choices
    preview: Preview | None = None
    refusal: Refusal | None = None

    @property
    def layout(self) -> str:
        shown = self.preview or self.refusal
        return shown.layout if shown else ""


def file_preview(request: SignedIn, pk: int) -> HttpResponse:
    """What was understood of a file, each item changeable; its readings are used on request."""
    file = get_object_or_404(visible_files(request.user), pk=pk)
    run = run_or_404(request, file.run_id)
    sent = request.POST if request.method == "POST" else request.GET
    understanding = _understand(file, run, sent)
    if request.method == "POST" and "forget" in sent:
        actions.forget_choices(run, understanding.layout, by=request.user)
        understanding = _understand(file, run, sent)
    if request.method == "POST" and "use" in sent and understanding.preview is not None:
        block = actions.use_file(
            file,
            understanding.preview,
            by=request.user,
            entered_by=writer_of(request, run),
            firing=sent.get("firing", ""),
            settled=understanding.choices,
        )
        messages.success(request, f"{block.count} readings taken from {file.name}.")
        return redirect("run_readings", run.pk)
    context = _context(request, file, run, sent, understanding)
    return page(request, "runs/file.html", context, part="understood")


def _understand(file: LoggerFile, run: Run, sent: Mapping[str, str]) -> Understanding:
    choices = Choices()
    try:
        choices = choices_from(sent)
        remembered = remembered_for(run.bench)
        understood = preview(bytes(file.content), choices=choices, remembered=remembered)
    except Refusal as refusal:
        return Understanding(choices, refusal=refusal)
    return Understanding(choices, understood)


def _context(
    request: SignedIn,
    file: LoggerFile,
    run: Run,
    sent: Mapping[str, str],
    understanding: Understanding,
) -> dict[str, Any]:
    understood, refusal = understanding.preview, understanding.refusal
    shown = understood or refusal
    uses = uses_elsewhere(file)
    return {
        "run": run,
        "tab": "readings",
        "steps": steps_of(run),
        "file": file,
        "understood": understood,
        "refusal": refusal,
        "items": items_of(shown, sent),
        "first_rows": shown.first_rows if shown else (),
        "chosen": sent,
        "asked": {question.code for question in understood.questions} if understood else (),
        "remembered": choices_for(run.bench, understanding.layout),
        "may_use": may(request.user, "fill in sheet", run) and not run.is_finished,
        "replaces": readings_of(run).kept_count,
        **_readings_context(run, understood, sent, uses),
    }


def _readings_context(
    run: Run, understood: Preview | None, sent: Mapping[str, str], uses: list[FileUse]
) -> dict[str, Any]:
    """The readings that would be taken, drawn; where there are several firings, which to take."""
    if understood is None or not understood.readings:
        return {"known": _known(run, uses)}
    readings = readings_in(understood)
    question = firing_question(readings, firings_in(readings, run.method), uses, sent)
    if question is not None and question.stretch is not None:
        readings = readings.within(question.stretch)
    return {
        "firing": question,
        "count": len(readings.times_s),
        "known": _known(run, _sharing(question, uses)),
        "figure": thermogram(readings.times_s, readings.temperatures_c, None),
    }


def _sharing(question: FiringQuestion | None, uses: list[FileUse]) -> list[FileUse]:
    """The uses of the file that matter: none, as long as its firing is not chosen yet."""
    if question is None:
        return uses
    if not question.is_answered:
        return []
    return [use for use in uses if use.shares(question.stretch)]


def _known(run: Run, uses: list[FileUse]) -> list[Problem]:
    if not uses:
        return []
    own = sorted({str(use.run) for use in uses if use.run.group_id == run.group_id})
    named = ", ".join(own) or "a run of another group"
    sentence = f"This file was already used for {named}. Is it the right one?"
    return [Problem("file used before", "W", sentence)]
