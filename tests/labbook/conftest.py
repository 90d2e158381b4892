"""A small laboratory with its standing people: a group, a stranger, TAs, a coordinator."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from django.test import Client
from django.utils import timezone

from labbook.actions import around_firing
from labbook.actions import files as file_actions
from labbook.actions import runs as run_actions
from labbook.actions import sheets as sheet_actions
from labbook.actions import standardizations as standardization_actions
from labbook.actions.samples import issue_sample
from labbook.actions.setup import change_configuration
from labbook.intake import preview
from labbook.lookups.around_firing import checklist_words
from labbook.lookups.standardizations import summary_of
from labbook.models import (
    Account,
    Bench,
    BenchConfiguration,
    FuseLot,
    Group,
    Membership,
    Method,
    Part,
    Person,
    Role,
    Run,
    Sample,
    Section,
    Standardization,
    StandardLot,
    Substance,
    Term,
    TitrantLot,
)


@dataclass
class Laboratory:
    bench: Bench
    other_bench: Bench
    method: Method
    term: Term
    group: Account
    stranger: Account
    assistant: Account
    other_assistant: Account
    coordinator: Account
    sample: Sample
    person: Person


def account(username: str, role: str, **rest: Any) -> Account:
    return Account.objects.create(username=username, name=username, role=role, **rest)


def bench_with_configuration(code: str, by: Account) -> Bench:
    bench = Bench.objects.create(code=code)
    parts = {
        kind: Part.objects.create(kind=kind, serial=f"{kind}-{code}")
        for kind in BenchConfiguration.PARTS
    }
    BenchConfiguration.objects.create(
        bench=bench,
        since=timezone.now() - timedelta(days=400),
        nominal_water_g=2000,
        bomb_volume_ml=340,
        reason="set up",
        made_by=by,
        **parts,
    )
    return bench


def group_in(term: Term, section: str, assistant: Account, code: str, bench: Bench) -> Group:
    """A group in a section of its own, looked after by one TA and booked on a bench."""
    made = Section.objects.create(term=term, name=section)
    made.assistants.add(assistant)
    return Group.objects.create(section=made, code=code, bench=bench)


def lots() -> None:
    """One lot of each material a run needs."""
    StandardLot.objects.create(
        code="S1",
        substance=Substance.objects.create(name="benzoic acid", formula="C7H6O2"),
        value_j_per_g="26434",
        u_j_per_g="1.5",
        basis="vacuum",
        certificate="invented certificate",
    )
    FuseLot.objects.create(code="W1", material="wire", basis="J/cm", value="9.6", source="lot")
    TitrantLot.objects.create(code="T1", solute="sodium carbonate", mol_per_l="0.0709")


def hidden_sample(term: Term) -> Sample:
    naphthalene = Substance.objects.create(
        name="naphthalene",
        formula="C10H8",
        literature_dch_kj_per_mol="-5156.15",
        literature_u_kj_per_mol="0.92",
        citation="Coleman & Pilcher 1966",
    )
    return Sample.objects.create(term=term, label="U-1", substance=naphthalene, max_charge_g="0.7")


@pytest.fixture
def laboratory(db: None) -> Laboratory:
    return set_up_laboratory()


def set_up_laboratory() -> Laboratory:
    coordinator = account("coordinator", Role.COORDINATOR)
    assistant = account("ta", Role.ASSISTANT)
    other_assistant = account("other-ta", Role.ASSISTANT)
    method = Method.objects.create(name="first year", made_by=coordinator, made_at=timezone.now())
    today = timezone.localdate()
    starts, ends = today - timedelta(days=30), today + timedelta(days=60)
    term = Term.objects.create(
        name="autumn", starts=starts, ends=ends, method=method, ours_unlock="at once"
    )
    bench, other_bench = (bench_with_configuration(code, coordinator) for code in ("B1", "B2"))
    group = group_in(term, "Monday", assistant, "M1", bench)
    strangers = group_in(term, "Friday", other_assistant, "F1", other_bench)
    person = Person.objects.create(name="Ada Quill")
    Membership.objects.create(group=group, person=person, since=today)
    lots()
    sample = hidden_sample(term)
    issue_sample(sample, group, by=assistant)
    return Laboratory(
        bench=bench,
        other_bench=other_bench,
        method=method,
        term=term,
        group=account("m1", Role.GROUP, group=group),
        stranger=account("f1", Role.GROUP, group=strangers),
        assistant=assistant,
        other_assistant=other_assistant,
        coordinator=coordinator,
        sample=sample,
        person=person,
    )


def signed_in(who: Account) -> Client:
    client = Client()
    client.force_login(who)
    return client


BEFORE_FIRING = {
    "standard_lot": "S1",
    "fuse_lot": "W1",
    "titrant_lot": "T1",
    "charge_gross_g": "13.9876",
    "charge_tare_g": "13.0000",
    "fuse_before": "10.0",
    "water_ml": "1.0",
    "oxygen_atm": "25",
    "leak_check": "tight",
    "bucket_gross_g": "2800.0",
    "bucket_tare_g": "800.0",
}
AFTER_FIRING = {"fuse_left": "2.0", "soot": "none", "titre_ml": "7.9"}


def curve(rise_k: float = 2.5, interval_s: float = 15.0) -> bytes:
    """A logger file of the textbook curve: first-order release, leak, fired at 300 s."""
    time = np.arange(0.0, 1200.1, interval_s)
    leak, tau, outside = 0.0020 / 60, 42.0, 25.40
    s = np.clip(time - 300.0, 0.0, None)
    before = outside - 2.40 * np.exp(-leak * np.minimum(time, 300.0))
    rate = 1 / tau
    pulse = rise_k * rate / (rate - leak) * (np.exp(-leak * s) - np.exp(-s * rate))
    temperature = outside + (before - outside) * np.exp(-leak * s) + np.where(s > 0, pulse, 0)
    lines = [f"{t:g},{value:.4f}" for t, value in zip(time, temperature, strict=True)]
    return ("time_s,temperature_c\n" + "\n".join(lines) + "\n").encode()


def fill_in(run: Run, figures: dict[str, str], by: Account) -> None:
    for key, text in figures.items():
        sheet_actions.enter_figure(run, key, text, by=by)


def ready_to_fire(run: Run, lab: Laboratory, **changes: str) -> Run:
    sheet_actions.note_presence(run, [lab.person], by=lab.group)
    figures = BEFORE_FIRING | changes
    if run.kind == Run.Kind.UNKNOWN:
        figures = {"charge_gross_g": "13.6000"} | figures | changes
        figures.pop("standard_lot")
        figures["charge_gross_g"] = changes.get("charge_gross_g", "13.6000")
    fill_in(run, figures, lab.group)
    tick_all(run, lab)
    return run


def tick_all(run: Run, lab: Laboratory) -> None:
    """The whole checklist before firing, by the group's one person."""
    for number in range(len(checklist_words(run))):
        around_firing.tick_item(run, number, lab.person, by=lab.group)


def hand_in(run: Run, content: bytes, by: Account) -> None:
    file = file_actions.keep_file(run, "run.csv", content, by=by)
    file_actions.use_file(file, preview(content), by=by)


def completed(run: Run, lab: Laboratory, rise_k: float = 2.5, **changes: str) -> Run:
    """A run taken from an empty sheet to complete, the way a group does it."""
    ready_to_fire(run, lab, **changes)
    run_actions.mark_fired(run, "300", by=lab.group)
    fill_in(run, AFTER_FIRING, lab.group)
    hand_in(run, curve(rise_k), lab.group)
    return run_actions.complete_run(run, by=lab.group)


def standardized(
    lab: Laboratory, rises: tuple[float, ...] = (2.5, 2.505, 2.495)
) -> Standardization:
    """A standardization of the group with its completed runs, still gathering."""
    for rise in rises:
        run = run_actions.open_standardization_run(lab.bench, by=lab.group)
        completed(run, lab, rise)
    assert run.standardization is not None
    return run.standardization


def put_forward(lab: Laboratory) -> Standardization:
    return standardization_actions.put_forward(standardized(lab), by=lab.group)


def approved(lab: Laboratory) -> Standardization:
    found = put_forward(lab)
    seen = summary_of(found).seen
    return standardization_actions.approve(found, by=lab.assistant, seen=seen)


def unknown(lab: Laboratory) -> Run:
    """An unknown opened on the bench, which was standardized and approved for it."""
    approved(lab)
    return run_actions.open_unknown_run(lab.bench, lab.sample, by=lab.group)


def fired(run: Run, lab: Laboratory) -> Run:
    return run_actions.mark_fired(ready_to_fire(run, lab), "300", by=lab.group)


def head_changed(lab: Laboratory) -> BenchConfiguration:
    """The bench after its head was exchanged, all else as before."""
    configuration = BenchConfiguration.objects.get(bench=lab.bench)
    configuration.pk, configuration._state.adding = None, True
    configuration.since, configuration.reason = timezone.now(), "new head"
    configuration.head = Part.objects.create(kind=Part.Kind.HEAD, serial="head-spare")
    return change_configuration(configuration, by=lab.coordinator)


def member(lab: Laboratory, name: str) -> Person:
    """One more student in the laboratory's group."""
    person = Person.objects.create(name=name)
    Membership.objects.create(group=lab.group.group, person=person, since=timezone.localdate())
    return person


def colleague(lab: Laboratory) -> Account:
    """A second TA of the group's section."""
    second = account("second-ta", Role.ASSISTANT)
    lab.group.group.section.assistants.add(second)
    return second
