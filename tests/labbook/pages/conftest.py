"""A laboratory after an afternoon: an approved standardization and a burned unknown."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from labbook.actions import runs
from labbook.actions.bench_log import report_fault
from labbook.actions.handing_in import hand_in
from labbook.actions.history import propose_break
from labbook.actions.rereductions import plan_rereduction
from labbook.models import (
    BenchEvent,
    HandIn,
    LoggerFile,
    PhaseBreak,
    Rereduction,
    Run,
    Standardization,
)

from ..conftest import Laboratory, completed, signed_in, unknown
from ..marking import marked_and_given_out

HTMX = {"HX-Request": "true"}


@dataclass
class Afternoon:
    lab: Laboratory
    run: Run
    standardization: Standardization
    file: LoggerFile
    plan: Rereduction
    fault: BenchEvent
    cut: PhaseBreak
    hand_in: HandIn

    def client(self, persona: str) -> Client:
        return Client() if persona == "anonymous" else signed_in(getattr(self.lab, persona))


@pytest.fixture(autouse=True)
def pdf_as_its_page(monkeypatch: pytest.MonkeyPatch) -> None:
    """In place of a PDF the page it is made of: quick, and what it tells can be read."""
    monkeypatch.setattr("labbook.views.paper.as_pdf", lambda page, styles: page.encode())
    monkeypatch.setattr("labbook.exchange.package.contents.can_make_pdf", lambda: False)


@pytest.fixture
def afternoon(laboratory: Laboratory) -> Afternoon:
    return whole_afternoon(laboratory)


def whole_afternoon(laboratory: Laboratory) -> Afternoon:
    run = completed(unknown(laboratory), laboratory, rise_k=2.31)
    assert run.rests_on is not None
    plan = plan_rereduction({}, "to see what moves", by=laboratory.coordinator)
    fault = report_fault(laboratory.bench, "stirrer belt slips", by=laboratory.group)
    before = timezone.now() - timedelta(days=300)
    cut = propose_break(laboratory.bench, before, "parts", "new head", by=laboratory.coordinator)
    handed_in = hand_in(laboratory.group.group, by=laboratory.group)
    marked_and_given_out(handed_in, laboratory)
    return Afternoon(laboratory, run, run.rests_on, run.files.get(), plan, fault, cut, handed_in)


@pytest.fixture
def open_run(laboratory: Laboratory) -> Run:
    return runs.open_standardization_run(laboratory.bench, by=laboratory.group)


@pytest.fixture
def group(laboratory: Laboratory) -> Client:
    return signed_in(laboratory.group)


@pytest.fixture
def assistant(laboratory: Laboratory) -> Client:
    return signed_in(laboratory.assistant)


@pytest.fixture
def coordinator(laboratory: Laboratory) -> Client:
    return signed_in(laboratory.coordinator)
