"""A term begun from the last, slips, leavers, closing with an archive that verifies."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.exceptions import PermissionDenied
from django.core.management import call_command
from django.test import Client
from django.utils import timezone

from labbook.actions.runs import open_standardization_run, sign_run
from labbook.actions.sign_ins import end_sign_in, make_slips, open_sign_in
from labbook.actions.terms import archives, begin_term, close_term
from labbook.exchange.archives import faults_in
from labbook.lookups.archives import people_of
from labbook.lookups.fingerprints import fingerprint_of
from labbook.lookups.terms import groups_of, like_last
from labbook.models import Account, Group, Membership, Run, Term, TermClosing
from labbook.problems import Refused

from ..conftest import Laboratory, completed, signed_in


@pytest.fixture(autouse=True)
def data_folder(settings: object, tmp_path: Path) -> None:
    settings.DATA_DIR = tmp_path


def next_term(lab: Laboratory, **chosen: bool) -> Term:
    following = like_last(lab.term)
    following.name = "spring"
    return begin_term(following, lab.term, **chosen, by=lab.coordinator)


def ended(lab: Laboratory) -> Term:
    lab.term.ends = timezone.localdate()
    lab.term.save()
    return lab.term


def signed_run(lab: Laboratory) -> Run:
    run = completed(open_standardization_run(lab.bench, by=lab.group), lab)
    return sign_run(run, by=lab.assistant)


def signs_in(client: Client, name: str, password: str) -> bool:
    return client.post("/sign-in/", {"username": name, "password": password}).status_code == 302


def test_the_next_term_has_sections_tas_and_bookings_but_no_people(laboratory: Laboratory) -> None:
    made = next_term(laboratory)
    assert made.starts == laboratory.term.ends + timedelta(days=1)
    assert [one.name for one in made.sections.order_by("pk")] == ["Monday", "Friday"]
    monday = made.sections.get(name="Monday")
    assert list(monday.assistants.all()) == [laboratory.assistant]
    assert monday.groups.get().bench == laboratory.bench
    assert made.method == laboratory.method and made.ours_unlock == laboratory.term.ours_unlock
    assert not Membership.objects.filter(group__section__term=made).exists()
    assert not made.samples.exists()


def test_what_is_not_wanted_stays_behind_and_samples_are_sealed_again(
    laboratory: Laboratory,
) -> None:
    laboratory.sample.revealed_at = timezone.now()
    laboratory.sample.save()
    laboratory.assistant.is_active = False
    laboratory.assistant.save()
    made = next_term(laboratory, bookings=False, samples=True)
    assert made.samples.get().is_hidden and made.samples.get().label == "U-1"
    monday = made.sections.get(name="Monday")
    assert monday.groups.get().bench is None and not monday.assistants.exists()


def test_slips_open_the_record_and_are_kept_as_hashes_alone(laboratory: Laboratory) -> None:
    made = next_term(laboratory)
    slips = make_slips(made, groups_of(made), by=laboratory.coordinator)
    assert [slip.account.username for slip in slips] == ["f1-2", "m1-2"]
    for slip in slips:
        assert signs_in(Client(), slip.account.username, slip.passphrase)
        assert slip.passphrase not in Account.objects.get(pk=slip.account.pk).password
    assert len({slip.passphrase for slip in slips}) == 2


def test_a_new_slip_ends_the_old_one_and_its_session(laboratory: Laboratory) -> None:
    group = Group.objects.filter(pk=laboratory.group.group_id)
    (old,) = make_slips(laboratory.term, group, by=laboratory.coordinator)
    client = Client()
    assert signs_in(client, "m1", old.passphrase)
    make_slips(laboratory.term, group, by=laboratory.coordinator)
    assert client.get("/afternoon/").status_code == 302
    assert not signs_in(Client(), "m1", old.passphrase)


def test_a_leaver_is_out_at_once_and_the_work_stays(laboratory: Laboratory) -> None:
    client = signed_in(laboratory.assistant)
    assert client.get("/runs/").status_code == 200
    end_sign_in(laboratory.assistant, by=laboratory.coordinator)
    assert client.get("/runs/").status_code == 302
    open_sign_in(laboratory.assistant, by=laboratory.coordinator)
    assert client.get("/runs/").status_code == 302, "the session from before stays ended"
    assert laboratory.group.group.section.assistants.get() == laboratory.assistant


def test_nobody_ends_their_own_sign_in_and_others_may_end_none(laboratory: Laboratory) -> None:
    with pytest.raises(Refused, match="your own"):
        end_sign_in(laboratory.coordinator, by=laboratory.coordinator)
    with pytest.raises(PermissionDenied):
        end_sign_in(laboratory.group, by=laboratory.assistant)


def test_what_is_open_stands_against_closing(laboratory: Laboratory) -> None:
    completed(open_standardization_run(laboratory.bench, by=laboratory.group), laboratory)
    open_standardization_run(laboratory.bench, by=laboratory.group)
    with pytest.raises(Refused) as refused:
        close_term(laboratory.term, by=laboratory.coordinator)
    codes = {one.code for one in refused.value.problems}
    assert codes == {"running", "unfinished", "unsigned"}
    assert not TermClosing.objects.exists() and not list(archives().iterdir())


def test_a_closed_term_has_an_archive_that_verifies(laboratory: Laboratory) -> None:
    run = signed_run(laboratory)
    closing = close_term(ended(laboratory), by=laboratory.coordinator)
    content = (archives() / closing.archive_name).read_bytes()
    assert faults_in(content) == []
    assert hashlib.sha256(content).hexdigest() == closing.archive_sha256
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        record = archive.read(f"runs/{run.pk}.json")
        manifest = json.loads(archive.read("manifest.json"))
        readings = archive.read(f"runs/{run.pk}-readings.csv").splitlines()
        everything = b"".join(archive.read(name) for name in archive.namelist())
    assert hashlib.sha256(record).hexdigest() == fingerprint_of(run).full
    assert manifest["counts"]["runs"] == 1 and len(readings) == 82
    assert b"Ada Quill" not in everything
    assert people_of(laboratory.term)[0][1] == "Ada Quill"


def test_nothing_of_a_closed_term_changes(laboratory: Laboratory) -> None:
    signed_run(laboratory)
    close_term(ended(laboratory), by=laboratory.coordinator)
    for deed in (
        lambda: open_standardization_run(laboratory.bench, by=laboratory.group),
        lambda: close_term(laboratory.term, by=laboratory.coordinator),
        lambda: make_slips(laboratory.term, groups_of(laboratory.term), by=laboratory.coordinator),
    ):
        with pytest.raises((Refused, PermissionDenied)):
            deed()
    laboratory.group.refresh_from_db()
    assert not laboratory.group.is_active
    laboratory.group.is_active = True
    with pytest.raises(Refused, match="was closed on"):
        open_standardization_run(laboratory.bench, by=laboratory.group)


def changed(content: bytes, name: str, new: bytes | None, adds: bool = False) -> bytes:
    """An archive with one file written otherwise, taken out or added."""
    packed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(packed, "w") as made:
        for one in old.namelist():
            if one != name:
                made.writestr(one, old.read(one))
        if new is not None:
            made.writestr(name, new)
    return packed.getvalue()


def test_whatever_is_altered_in_an_archive_is_named(laboratory: Laboratory) -> None:
    signed_run(laboratory)
    closing = close_term(ended(laboratory), by=laboratory.coordinator)
    content = (archives() / closing.archive_name).read_bytes()
    assert "runs.csv is not as it was written." in faults_in(changed(content, "runs.csv", b"x"))
    assert "runs.csv is missing." in faults_in(changed(content, "runs.csv", None))
    assert "more.csv was added." in faults_in(changed(content, "more.csv", b"x"))
    assert faults_in(content[: len(content) // 2])
    assert faults_in(b"") and faults_in(changed(content, "manifest.json", b"{}"))


def test_the_command_says_whether_a_file_is_the_archive(laboratory: Laboratory) -> None:
    signed_run(laboratory)
    out = io.StringIO()
    ended(laboratory)
    call_command("close_term", "autumn", stdout=out)
    file = archives() / TermClosing.objects.get().archive_name
    assert str(file) in out.getvalue()
    call_command("verify_archive", str(file), stdout=out)
    assert "made at the closing of autumn" in out.getvalue()
    assert "Every file is as it was written." in out.getvalue()
    file.write_bytes(changed(file.read_bytes(), "runs.csv", b"x"))
    with pytest.raises(SystemExit):
        call_command("verify_archive", str(file), stdout=out)
    assert "No closing in this record made this file." in out.getvalue()
