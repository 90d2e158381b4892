"""Samples for staff: the sealed list, giving vials out, what is due; and a group's own label."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from labbook.lookups.samples import issue_of
from labbook.models import Group, Run, Sample, Substance

from ..conftest import Laboratory, approved, signed_in


@pytest.fixture
def second(laboratory: Laboratory) -> Sample:
    sucrose = Substance.objects.create(name="sucrose", formula="C12H22O11")
    return Sample.objects.create(
        term=laboratory.term, label="U-2", substance=sucrose, max_charge_g="1.1", difficulty=2
    )


def issue_page(lab: Laboratory) -> str:
    assert lab.group.group is not None
    return f"/samples/issue/{lab.group.group.section_id}/"


def test_a_section_is_given_what_is_proposed(
    laboratory: Laboratory, second: Sample, assistant: Client
) -> None:
    section = laboratory.group.group.section
    neighbour = Group.objects.create(section=section, code="M2", bench=laboratory.other_bench)
    path = issue_page(laboratory)
    shown = assistant.get(path)
    proposed = {place.group: place.proposed for place in shown.context["places"]}
    assert proposed == {laboratory.group.group: laboratory.sample, neighbour: second}
    assert "naphthalene" not in shown.content.decode()
    sent = {f"group-{group.pk}": sample.pk for group, sample in proposed.items()}
    assert assistant.post(path, sent).status_code == 302
    assert issue_of(neighbour).sample == second


def test_the_next_samples_need_a_reason_and_are_kept_with_it(
    laboratory: Laboratory, second: Sample, assistant: Client
) -> None:
    path, group = issue_page(laboratory), laboratory.group.group
    (place,) = assistant.get(path, {"anew": "1"}).context["places"]
    assert place.proposed == second
    sent = {f"group-{group.pk}": second.pk}
    refused = assistant.post(path, sent)
    assert refused.status_code == 409 and "Say why" in refused.content.decode()
    assert assistant.post(path, sent | {"reason": "next unknown"}).status_code == 302
    assert "next unknown" in assistant.get(path).content.decode()


def test_a_ta_gives_samples_to_the_own_sections_alone(laboratory: Laboratory) -> None:
    path, other = issue_page(laboratory), signed_in(laboratory.other_assistant)
    assert other.get(path).status_code == other.post(path, {}).status_code == 404


def test_the_sealed_list_says_all_of_a_running_term(
    laboratory: Laboratory, second: Sample, assistant: Client
) -> None:
    Sample.objects.filter(pk=second.pk).update(lot="R-22")
    html = assistant.get("/samples/sealed/").content.decode()
    for told in ("naphthalene", "Coleman &amp; Pilcher 1966", "sucrose", "R-22", "M1", "locked"):
        assert told in html, told


def test_what_is_due_is_revealed_from_the_page(laboratory: Laboratory, assistant: Client) -> None:
    assert "Reveal them now" not in assistant.get("/samples/").content.decode()
    yesterday = timezone.localdate() - timedelta(days=1)
    Sample.objects.filter(pk=laboratory.sample.pk).update(reveal_on=yesterday)
    assert "due since" in assistant.get("/samples/").content.decode()
    assert assistant.post("/samples/reveal-due/").status_code == 302
    assert not Sample.objects.get(pk=laboratory.sample.pk).is_hidden


def test_a_group_is_told_its_own_label_and_opens_with_it(
    laboratory: Laboratory, second: Sample, group: Client
) -> None:
    approved(laboratory)
    html = group.get("/afternoon/").content.decode()
    assert "U-1" in html and "U-2" not in html
    sent = {"bench": "B1", "kind": "unknown"}
    assert group.post("/runs/open/", sent | {"sample": "U-1"}).status_code == 302
    assert Run.objects.get(kind="unknown").sample == laboratory.sample


def test_another_label_is_refused_alike_whether_there_is_one_or_not(
    laboratory: Laboratory, second: Sample, group: Client
) -> None:
    approved(laboratory)
    sent = {"bench": "B1", "kind": "unknown"}
    answers = [group.post("/runs/open/", sent | {"sample": label}) for label in ("U-2", "U-7")]
    assert [answer.status_code for answer in answers] == [409, 409]
    told = {
        answer.content.decode().replace("U-7", "U-2").partition("<main")[2] for answer in answers
    }
    assert len({page.partition("csrf")[0] for page in told}) == 1
    assert all("yours is U-1" in page for page in told)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"label": "Naph-1"}, "part of the name"),
        ({"label": "C10H8"}, "the formula"),
        ({"label": "Q7"}, ""),
    ],
)
def test_a_label_that_tells_is_not_set_up(
    laboratory: Laboratory, coordinator: Client, changes: dict[str, str], said: str
) -> None:
    sent = {
        "term": laboratory.term.pk, "label": "Q7", "substance": laboratory.sample.substance_id,
        "max_charge_g": "0.7", "difficulty": "1", **changes,
    }  # fmt: skip
    response = coordinator.post("/set-up/samples/new/", sent)
    assert response.status_code == (422 if said else 302)
    assert said in response.content.decode()


def test_what_was_revealed_stays_what_it_is(
    laboratory: Laboratory, second: Sample, coordinator: Client
) -> None:
    Sample.objects.filter(pk=second.pk).update(revealed_at=timezone.now())
    sent = {
        "term": laboratory.term.pk, "label": "U-2", "max_charge_g": "1.1", "difficulty": "2",
        "substance": laboratory.sample.substance_id,
    }  # fmt: skip
    response = coordinator.post(f"/set-up/samples/{second.pk}/", sent)
    assert response.status_code == 422 and "stays as told" in response.content.decode()
