"""The record hash: the same for the same record, another for another."""

from __future__ import annotations

import hashlib
import json

import pytest

from labbook.actions import readings as reading_actions
from labbook.actions import runs
from labbook.actions.readings import fold_blocks
from labbook.actions.typed_readings import add_typed_reading
from labbook.lookups.fingerprints import canonical, fingerprint_of, record_of
from labbook.models import FiringCheck, Happening, NoteAnswer, Run

from ..conftest import Laboratory, completed, fill_in, ready_to_fire


@pytest.fixture
def run(laboratory: Laboratory) -> Run:
    opened = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    ready_to_fire(opened, laboratory)
    for time, temperature in (("0", "23.100"), ("15", "23,105"), ("0:30", "23.11")):
        add_typed_reading(opened, time, temperature, by=laboratory.group)
    return opened


def test_it_is_the_sha256_of_one_line_of_json(run: Run) -> None:
    line = canonical(record_of(run))
    assert fingerprint_of(run).full == hashlib.sha256(line).hexdigest()
    assert json.loads(line)["readings"][1]["written"]["temperature"] == "23,105"
    assert (
        line
        == json.dumps(
            json.loads(line), sort_keys=True, separators=(",", ":"), ensure_ascii=False
        ).encode()
    )


def test_how_the_readings_are_kept_makes_no_difference(run: Run) -> None:
    before = fingerprint_of(run)
    assert run.blocks.count() == 3
    fold_blocks(run)
    assert run.blocks.count() == 1
    assert fingerprint_of(run) == before


def test_whatever_is_added_changes_it(run: Run, laboratory: Laboratory) -> None:
    group, at = laboratory.group, run.opened_at
    seen = {fingerprint_of(run).full}
    deeds = (
        lambda: fill_in(run, {"room_c": "21.0"}, group),
        lambda: fill_in(run, {"room_c": "21"}, group),
        lambda: add_typed_reading(run, "45", "23.115", by=group),
        lambda: reading_actions.strike_readings(run, 2, 2, "mistyped", by=group),
        lambda: FiringCheck.objects.create(
            run=run, item="leads on", at=at, by=group, person=laboratory.person
        ),
        lambda: NoteAnswer.objects.create(
            run=run, code="soot", sentence="Soot.", answer="as it is", at=at, by=group
        ),
        lambda: Happening.objects.create(run=run, kind="lid", at=at, by=group),
        lambda: runs.mark_fired(run, "30", by=group),
    )
    for number, deed in enumerate(deeds, start=2):
        deed()
        seen.add(fingerprint_of(Run.objects.get(pk=run.pk)).full)
        assert len(seen) == number


def test_names_and_computing_again_do_not_touch_it(laboratory: Laboratory) -> None:
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    run = completed(run, laboratory)
    before = fingerprint_of(run)
    laboratory.person.name = "name withdrawn"
    laboratory.person.save()
    run.result = None
    run.save(update_fields=["result"])
    assert fingerprint_of(Run.objects.get(pk=run.pk)) == before
    assert b"Ada Quill" not in canonical(record_of(run))


def test_it_is_written_in_groups_to_be_compared_by_eye(run: Run) -> None:
    mark = fingerprint_of(run)
    assert mark.short.replace(" ", "") == mark.full[:12]
    assert [len(piece) for piece in mark.short.split()] == [4, 4, 4]
    assert mark.spaced.replace(" ", "") == mark.full
