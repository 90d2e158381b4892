"""While a course withholds our values, no answer a group can get holds a digit of them."""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone

from labbook.actions.runs import open_standardization_run
from labbook.actions.samples import reveal_sample
from labbook.models import Account, HandFiguresSaved, HandIn, Run, Term

from ..conftest import (
    Laboratory,
    curve,
    fired,
    hand_in,
    head_changed,
    signed_in,
    standardized,
)
from .conftest import HTMX, Afternoon
from .test_reach import PAGES, SEEN, address

SCALES = (1.0, 1000.0, 0.001)
PER_MINUTE = (60.0, 60_000.0)
KEPT_APART = re.compile("[\u202f\u00a0\u2009\u2007\u2008]")


def values_of(run: Run) -> Iterator[float]:
    """Everything a student is to find by hand, or that rests on it."""
    assert run.result is not None
    outputs = run.result.outputs
    for line in outputs["drift"].values():
        yield from (line["slope_k_per_s"] * scale for scale in (1.0, *PER_MINUTE))
    for rise in outputs["rise"].values():
        yield from (rise[key] for key in ("rise_k", "at_s", "leak_per_s") if rise.get(key))
    yield outputs["rise_used"]["rise_k"]
    yield outputs["time_to_95_percent_s"]
    yield outputs["heat"]["charge_j"] or 0.0
    yield outputs["heat"]["total_j"]
    if not outputs["combustion"]:
        yield from (outputs["heat_capacity"] or {}).values()
    for key in ("du_j_per_g", "dcu_kj_per_mol", "dch_kj_per_mol", "dfh_kj_per_mol"):
        yield (outputs["combustion"] or {}).get(key) or 0.0
    yield from (budget["expanded_u"] for budget in outputs["budget"].values())


def written(value: float) -> set[str]:
    """A value as it may be written: in several units, to several digits."""
    texts = set()
    for scale in SCALES:
        x = abs(value * scale)
        texts |= {f"{x:.{digits}f}" for digits in range(7)} | {f"{x:.{n}g}" for n in (4, 5, 6)}
    return {text for text in texts if "e" not in text and _tells(text)}


def _tells(text: str) -> bool:
    """Four digits that are not zeros at the front: fewer are met by chance."""
    return len(text.replace(".", "").lstrip("0")) >= 4 and float(text) != round(float(text), -2)


def secrets_of(runs: list[Run], public: list[float]) -> re.Pattern[str]:
    texts = {text for run in runs for value in values_of(run) for text in written(value)}
    texts -= {text for value in public for text in written(value)}
    any_of = "|".join(map(re.escape, sorted(texts)))
    return re.compile(rf"(?<![0-9a-f.])(?:{any_of})(?![0-9a-f])")  # no part of a hash


def answer(response: Any) -> str:
    """Body and headers, without the thin spaces between groups of digits."""
    headers = "\n".join(f"{name}: {value}" for name, value in response.headers.items())
    return KEPT_APART.sub("", headers + "\n".join(texts_in(b"".join(response))))


def texts_in(content: bytes) -> Iterator[str]:
    """The text of an answer; of an archive the text of everything in it."""
    if not content.startswith(b"PK"):
        yield content.decode(errors="replace")
        return
    with ZipFile(BytesIO(content)) as archive:
        for name in archive.namelist():
            yield name
            yield from texts_in(archive.read(name))


@pytest.fixture
def withheld(afternoon: Afternoon) -> Afternoon:
    Term.objects.update(ours_unlock="hand figures")
    return afternoon


def runs_of(afternoon: Afternoon) -> list[Run]:
    return [afternoon.run, *afternoon.standardization.runs.order_by("pk")]


def secrets(afternoon: Afternoon) -> re.Pattern[str]:
    approved = afternoon.standardization
    public = [approved.approved_c_j_per_k, approved.approved_half_width_j_per_k]
    return secrets_of(runs_of(afternoon), public)


def answers(client: Client, afternoon: Afternoon) -> Iterator[tuple[str, str]]:
    """Every address as the group, about each of its runs, as a page and as a part."""
    for name in SEEN:
        route = str(next(pattern.pattern for pattern in PAGES if pattern.name == name))
        here = address(name, afternoon)
        of_runs = [
            here.replace(f"/{afternoon.run.pk}/", f"/{run.pk}/") for run in runs_of(afternoon)
        ]
        for path in of_runs if route.startswith("runs/<int:pk>") else [here]:
            if name == "another_group":
                continue
            for headers in ({}, HTMX):
                yield path, answer(client.get(path, headers=headers))
    for run in runs_of(afternoon):
        yield from posts(client, run)


def posts(client: Client, run: Run) -> Iterator[tuple[str, str]]:
    for path, sent in (
        ("monte-carlo/", {}),
        ("bounds/", {"settled_at_s": "800", "reason": "to see"}),
        ("figures/water_ml/", {"water_ml": "1.5", "reason": "misread"}),
        ("hand-figures/rise/", {"rise": "2.5", "unit_rise": "K"}),
        ("hand-figures/stand/", {}),
        ("complete/", {}),
    ):
        for headers in ({}, HTMX):
            whole = f"/runs/{run.pk}/{path}"
            yield whole, answer(client.post(whole, sent, headers=headers, follow=True))


def stand(runs: list[Run], by: Account) -> None:
    for run in runs:
        HandFiguresSaved.objects.create(run=run, at=timezone.now(), by=by)


def test_no_answer_tells_before_the_hand_figures_stand(
    withheld: Afternoon, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    hidden, client = secrets(withheld), withheld.client("group")
    for path, told in answers(client, withheld):
        found = hidden.search(told)
        assert found is None, (path, told[max(0, found.start() - 80) : found.end() + 20])
        # Arrays of a figure are no text: the traces that hold values must not be there at all.
        assert not any(f'"name": "{trace}' in told for trace in ("fore line", "corrected rise"))
    assert not hidden.search(KEPT_APART.sub("", caplog.text))


def test_all_of_it_shows_once_they_stand(withheld: Afternoon) -> None:
    stand(runs_of(withheld), withheld.lab.group)
    client = withheld.client("group")
    for run in runs_of(withheld):
        assert run.result is not None
        of_one = secrets_of([run], [])
        for page in ("result/", "working/", "working.json", "paper/"):
            assert of_one.search(answer(client.get(f"/runs/{run.pk}/{page}"))), page
    page = answer(client.get(f"/standardizations/{withheld.standardization.pk}/"))
    assert "Uncertainty budget of the mean" in page


def test_one_run_that_is_withheld_withholds_the_mean(withheld: Afternoon) -> None:
    stand(runs_of(withheld)[1:-1], withheld.lab.group)
    last = runs_of(withheld)[-1]
    page = answer(withheld.client("group").get(f"/standardizations/{withheld.standardization.pk}/"))
    assert not secrets_of([last], [withheld.standardization.approved_c_j_per_k]).search(page)
    assert "as it was approved for the bench" in page and "standard deviation" not in page


def test_a_first_look_at_readings_tells_nothing_either(laboratory: Laboratory) -> None:
    Term.objects.update(ours_unlock="hand figures")
    run = fired(open_standardization_run(laboratory.bench, by=laboratory.group), laboratory)
    hand_in(run, curve(2.5), laboratory.group)
    run.refresh_from_db()
    told = answer(signed_in(laboratory.group).get(f"/runs/{run.pk}/readings/"))
    assert "fore line" not in told and "corrected rise" not in told and "bound:fired_at_s" in told
    assert 'placeholder=""' in told and not re.search(r'placeholder="[^"]', told.split("bounds")[1])
    staff = answer(signed_in(laboratory.assistant).get(f"/runs/{run.pk}/readings/"))
    assert "fore line" in staff and "corrected rise" in staff


@pytest.mark.parametrize(
    ("setting", "after_hand_in", "words"),
    [("hand-in", True, "once your group has handed in"), ("never", False, "for the staff")],
)
def test_the_other_settings(
    laboratory: Laboratory, setting: str, after_hand_in: bool, words: str
) -> None:
    run = standardized(laboratory).runs.order_by("pk").first()
    assert run is not None and laboratory.group.group is not None
    Term.objects.update(ours_unlock=setting)
    client, result = signed_in(laboratory.group), f"/runs/{run.pk}/result/"
    stand([run], laboratory.group)
    told = answer(client.get(result))
    assert words in told and not secrets_of([run], []).search(told)
    HandIn.objects.create(
        group=laboratory.group.group, version=1, at=timezone.now(), by=laboratory.group,
        record=b"{}", record_sha256="",
    )  # fmt: skip
    assert bool(secrets_of([run], []).search(answer(client.get(result)))) is after_hand_in


def test_staff_see_ours_at_all_times(withheld: Afternoon) -> None:
    for persona in ("assistant", "coordinator"):
        told = answer(withheld.client(persona).get(f"/runs/{withheld.run.pk}/result/"))
        assert secrets_of([withheld.run], []).search(told)


def test_the_reveal_opens_nothing(withheld: Afternoon) -> None:
    reveal_sample(withheld.lab.sample, by=withheld.lab.coordinator)
    withheld.run.refresh_from_db()
    told = answer(withheld.client("group").get(f"/runs/{withheld.run.pk}/result/"))
    assert not secrets_of([withheld.run], []).search(told)


def test_a_change_of_the_bench_tells_nothing(withheld: Afternoon) -> None:
    head_changed(withheld.lab)
    hidden = secrets(withheld)
    assert not hidden.search(answer(withheld.client("group").get("/afternoon/")))


READS_A_RESULT = re.compile(
    r"\.result\.(?:outputs|rise_k|c_j|du_j|dch_|fore_|after_|time_|noise_|inputs)"
)
MAY_READ_RESULTS = {
    # The door itself, what lies behind it, and what is for staff or actions alone.
    "lookups/outputs.py", "lookups/workings.py", "lookups/replicates.py",
    "lookups/standardizations.py", "lookups/snapshots.py", "lookups/hand_comparison.py",
    "lookups/archives.py", "lookups/open_data.py",
}  # fmt: skip


def test_pages_and_exports_take_results_through_the_door_alone() -> None:
    root = Path(settings.BASE_DIR)
    sources = [*(root / "labbook").rglob("*.py"), *(root / "templates").rglob("*.html")]
    for path in sources:
        where = str(path.relative_to(root)).removeprefix("labbook/")
        is_reader = where.startswith(("views/", "exchange/", "forms/", "lookups/", "templates/"))
        if is_reader and where not in MAY_READ_RESULTS:
            assert not READS_A_RESULT.search(path.read_text()), where
