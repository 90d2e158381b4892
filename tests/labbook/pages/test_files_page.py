"""Logger files handed in: kept whatever they hold, understood or refused in words."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from labbook.lookups.readings import readings_of
from labbook.models import FileChoices, LoggerFile, Run

from ..conftest import Laboratory, completed, curve, hand_in, signed_in
from .conftest import HTMX

UPLOADS = Path(__file__).parents[3] / "fixtures/uploads"
COMMAS = curve().replace(b",", b";").replace(b".", b",")
BAD: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "empty"),
    "binary": (bytes(range(256)) * 40, ""),
    "one column": (b"\n".join(b"%d.5" % n for n in range(20)) + b"\n", ""),
    "text in number columns": (b"time_s,temperature_c\n" + b"early,warm\nlate,hot\n" * 9, ""),
    "a header and nothing else": (b"time_s,temperature_c\n", ""),
    "a picture": (b"\x89PNG\r\n\x1a\n" + bytes(2000), ""),
}
GOOD: dict[str, tuple[bytes, int]] = {
    "as the logger wrote it": (curve(), 81),
    "commas for points": (COMMAS, 81),
    "UTF-16": (curve().decode().encode("utf-16"), 81),
    "cut in its last line": (curve()[:-4], 80),
}


def handed_in(client: Client, run: Run, content: bytes, name: str = "run.csv") -> str:
    file = SimpleUploadedFile(name, content)
    response = client.post(f"/runs/{run.pk}/files/", {"file": file})
    assert response.status_code == 302, response.content.decode()
    return response["Location"]


@pytest.mark.parametrize(("content", "said"), BAD.values(), ids=BAD)
def test_a_bad_file_is_kept_and_refused_in_words(
    group: Client, open_run: Run, content: bytes, said: str
) -> None:
    path = handed_in(group, open_run, content)
    response = group.get(path)
    html = response.content.decode()
    assert response.status_code == 200
    assert 'class="error" role="alert"' in html and said in html.lower()
    assert "Use these" not in html
    assert group.post(path, {"use": "yes"}).status_code in (200, 409)
    assert bytes(LoggerFile.objects.get().content) == content
    assert not open_run.blocks.exists()
    assert "run.csv" in group.get(f"/runs/{open_run.pk}/readings/").content.decode()


def test_what_a_file_leaves_open_is_asked_and_answered(group: Client, open_run: Run) -> None:
    path = handed_in(group, open_run, (UPLOADS / "two_temperatures.csv").read_bytes())
    html = group.get(path).content.decode()
    option = re.search(r'<input type="radio" name="(\w+)" value="([^"]*)"', html)
    assert option and "Use these" not in html
    assert group.post(path, {"use": "yes"}).status_code == 409
    assert not open_run.blocks.exists()
    assert "Use these" in group.post(path, {option[1]: option[2]}).content.decode()


@pytest.mark.parametrize(("content", "count"), GOOD.values(), ids=GOOD)
def test_a_good_file_gives_its_readings_on_request(
    group: Client, open_run: Run, content: bytes, count: int
) -> None:
    path = handed_in(group, open_run, content)
    html = group.get(path).content.decode()
    assert f"Use these {count} readings" in html
    assert not open_run.blocks.exists()
    assert group.post(path, {"use": "yes"}).status_code == 302
    assert readings_of(open_run).kept_count == count
    assert readings_of(open_run).temperatures_c[0] == 23.0


def test_every_file_of_the_collection_is_used_asked_about_or_refused(
    group: Client, open_run: Run
) -> None:
    files = [file for file in UPLOADS.iterdir() if file.suffix != ".json"]
    assert files
    for file in files:
        path = handed_in(group, open_run, file.read_bytes(), file.name)
        if group.post(path, {"use": "yes"}).status_code != 302:
            html = group.get(path).content.decode()
            assert "<fieldset" in html or 'role="alert"' in html, file.name


@pytest.mark.parametrize(
    "name",
    [
        "delimiter",
        "decimal",
        "time_kind",
        "day_first",
        "unit",
        "encoding",
        "parts",
        "time_column",
        "temperature_column",
    ],
)
def test_a_choice_that_is_not_offered_is_answered_in_words(
    group: Client, open_run: Run, name: str
) -> None:
    path = handed_in(group, open_run, curve())
    for value in ("nonsense", "99", "-1", "9" * 5000, "\0", "²"):
        response = group.get(path, {name: value})
        assert response.status_code == 200, value


def test_more_than_five_megabytes_are_refused_with_the_size(group: Client, open_run: Run) -> None:
    big = SimpleUploadedFile("big.csv", b"0,20.0\n" * (6 * 2**20 // 7))
    response = group.post(f"/runs/{open_run.pk}/files/", {"file": big})
    assert response.status_code == 409
    assert "6.0 MB; at most 5 MB are taken" in response.content.decode()


@pytest.mark.parametrize("sent", [{}, {"file": "not a file"}])
def test_no_file_is_said_so(group: Client, open_run: Run, sent: dict[str, str]) -> None:
    response = group.post(f"/runs/{open_run.pk}/files/", sent)
    assert response.status_code == 409 and "No file was sent" in response.content.decode()


def test_htmx_is_sent_on_to_the_file(group: Client, open_run: Run) -> None:
    file = SimpleUploadedFile("run.csv", curve())
    response = group.post(f"/runs/{open_run.pk}/files/", {"file": file}, headers=HTMX)
    assert response["HX-Redirect"] == f"/files/{LoggerFile.objects.get().pk}/"


def test_names_of_files_are_kept_short_and_shown_escaped(group: Client, open_run: Run) -> None:
    path = handed_in(group, open_run, curve(), "<b>" + "x" * 300 + ".csv")
    assert len(LoggerFile.objects.get().name) <= 255
    assert "<b>x" not in group.get(path).content.decode()


def test_a_file_already_used_elsewhere_is_asked_about(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    hand_in(open_run, curve(), laboratory.group)
    again = Run.objects.create(
        group=open_run.group, bench=open_run.bench, configuration=open_run.configuration,
        method=open_run.method, kind="practice", replicate=1, opened_at=open_run.opened_at,
    )  # fmt: skip
    html = group.get(handed_in(group, again, curve())).content.decode()
    assert f"already used for run {open_run.pk}" in html


def test_a_finished_run_takes_no_file(laboratory: Laboratory, group: Client, open_run: Run) -> None:
    completed(open_run, laboratory)
    file = SimpleUploadedFile("late.csv", curve(2.6))
    response = group.post(f"/runs/{open_run.pk}/files/", {"file": file})
    assert response.status_code == 409
    assert "no readings can be added" in response.content.decode()


def two_firings() -> bytes:
    """A logger left on: one run, the bucket changed, another run half an hour later."""
    rows = curve().decode().splitlines()
    air = [f"{t:g},{20.0 + 0.001 * (t % 4):.4f}" for t in range(1215, 1800, 15)]
    second = [row.split(",") for row in curve(2.2).decode().splitlines()[1:]]
    later = [f"{float(time) + 1800:g},{value}" for time, value in second]
    return ("\n".join([*rows, *air, *later]) + "\n").encode()


def another_run(run: Run) -> Run:
    return Run.objects.create(
        group=run.group, bench=run.bench, configuration=run.configuration,
        method=run.method, kind="practice", replicate=1, opened_at=run.opened_at,
    )  # fmt: skip


def test_of_two_firings_in_a_file_the_one_chosen_is_taken(group: Client, open_run: Run) -> None:
    path = handed_in(group, open_run, two_firings())
    html = group.get(path).content.decode()
    assert "Two firings found (5:00, 35:00). Which is this run?" in html
    assert "Use these" not in html
    assert group.post(path, {"use": "yes"}).status_code == 409
    assert not open_run.blocks.exists()
    assert "Use these 80 readings" in group.post(path, {"firing": "2"}).content.decode()
    assert group.post(path, {"firing": "2", "use": "yes"}).status_code == 302
    block = open_run.blocks.get()
    assert block.read_as["firing"] == {"fired_at_s": 2100.0, "from_s": 1815.0, "until_s": 3000.0}
    assert readings_of(open_run).times_s[[0, -1]].tolist() == [1815.0, 3000.0]
    assert bytes(LoggerFile.objects.get().content) == two_firings()


def test_all_of_a_file_with_two_firings_may_be_one_run(group: Client, open_run: Run) -> None:
    path = handed_in(group, open_run, two_firings())
    assert group.post(path, {"firing": "all", "use": "yes"}).status_code == 302
    assert readings_of(open_run).kept_count == 201


def test_the_other_firing_of_a_used_file_is_taken_without_a_warning(
    group: Client, open_run: Run
) -> None:
    first = handed_in(group, open_run, two_firings())
    group.post(first, {"firing": "1", "use": "yes"})
    again = handed_in(group, another_run(open_run), two_firings())
    asked = group.get(again).content.decode()
    assert "already used" not in asked and asked.count("another run has taken it") == 1
    assert "already used" not in group.post(again, {"firing": "2"}).content.decode()
    for same in ("1", "all"):
        assert (
            f"already used for run {open_run.pk}"
            in group.post(again, {"firing": same}).content.decode()
        )


FAHRENHEIT = curve().replace(b"temperature_c", b"T").replace(b",2", b",7")


def test_what_was_chosen_is_remembered_for_the_bench(group: Client, open_run: Run) -> None:
    path = handed_in(group, open_run, FAHRENHEIT)
    assert "Use these" not in group.get(path).content.decode()
    assert group.post(path, {"unit": "°F", "use": "yes"}).status_code == 302
    other = handed_in(group, another_run(open_run), FAHRENHEIT + b"\n")
    html = group.get(other).content.decode()
    assert "Unit: °F, as remembered for this bench" in html and "Use these 81 readings" in html
    assert group.post(other, {"use": "yes"}).status_code == 302
    assert FileChoices.objects.count() == 1


def test_what_is_remembered_can_be_forgotten_and_stays_on_record(
    group: Client, open_run: Run
) -> None:
    path = handed_in(group, open_run, FAHRENHEIT)
    group.post(path, {"unit": "°F", "use": "yes"})
    assert "Forget it" in group.get(path).content.decode()
    html = group.post(path, {"forget": "yes"}).content.decode()
    assert "as remembered" not in html and "Forget it" not in html
    assert [row.choices for row in FileChoices.objects.order_by("pk")] == [{"unit": "°F"}, {}]


def test_another_bench_remembers_nothing_of_it(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    group.post(handed_in(group, open_run, FAHRENHEIT), {"unit": "°F", "use": "yes"})
    elsewhere = another_run(open_run)
    elsewhere.bench = laboratory.other_bench
    elsewhere.save()
    html = group.get(handed_in(group, elsewhere, FAHRENHEIT)).content.decode()
    assert "as remembered" not in html and "Use these" not in html


def test_a_refused_table_offers_its_columns(group: Client, open_run: Run) -> None:
    rows = b"".join(b"%d,%d.0,23.%02d\n" % (15 * n, 10840 - n, n) for n in range(20))
    path = handed_in(group, open_run, b"time (s),R (ohm),b\n" + rows)
    html = group.get(path, {"temperature_column": "2"}).content.decode()
    assert "not a temperature" in html and '<option value="3">column 3 b</option>' in html
    assert "Use these 20 readings" in group.get(path, {"temperature_column": "3"}).content.decode()


def test_a_file_that_was_handed_in_says_what_became_of_it(group: Client, open_run: Run) -> None:
    page = f"/runs/{open_run.pk}/readings/"
    first = handed_in(group, open_run, curve(), "first.csv")
    assert "<strong>not used</strong>" in group.get(page).content.decode()
    group.post(first, {"use": "yes"})
    assert "its readings are used" in group.get(page).content.decode()
    group.post(handed_in(group, open_run, curve(2.6), "second.csv"), {"use": "yes"})
    html = group.get(page).content.decode()
    assert "its readings were replaced" in html and "<strong>not used</strong>" not in html


def test_who_may_only_look_is_offered_no_use(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    path = handed_in(group, open_run, curve())
    html = signed_in(laboratory.coordinator).get(path).content.decode()
    assert "Use these" not in html and "takes no more readings from here" in html
