"""Results: a new row for each computation, a sentence where nothing could be computed."""

import json
import math

import pytest

from labbook.actions import readings, runs, samples, sheets, typed_readings
from labbook.actions.reductions import pooled_noise_k
from labbook.lookups.outputs import outputs_of
from labbook.lookups.readings import readings_of
from labbook.lookups.sheets import Sheet
from labbook.models import Account, Result, Role, Run
from labbook.problems import Refused

from ..conftest import AFTER_FIRING, Laboratory, completed, curve, fill_in, fired, hand_in, unknown


@pytest.fixture
def run(laboratory: Laboratory) -> Run:
    return runs.open_standardization_run(laboratory.bench, by=laboratory.group)


def shown(run: Run) -> tuple[str, bool]:
    run = Run.objects.get(pk=run.pk)
    outputs = outputs_of(run, Sheet(run), readings_of(run), Account(role=Role.COORDINATOR))
    return outputs.failure, outputs.is_kept


def test_a_failure_is_kept_as_a_sentence_and_the_readings_stay(
    laboratory: Laboratory, run: Run
) -> None:
    fired(run, laboratory)
    hand_in(run, curve(), laboratory.group)
    fill_in(run, AFTER_FIRING, laboratory.group)
    sheets.enter_figure(run, "fired_at_s", "9000", by=laboratory.group)
    run = Run.objects.get(pk=run.pk)
    assert run.result is not None
    assert "Firing at 9000 s leaves" in run.result.failure and run.result.outputs == {}
    with pytest.raises(Refused, match="Firing at 9000 s leaves"):
        runs.complete_run(run, by=laboratory.group)
    assert readings_of(run).kept_count == 81


@pytest.mark.parametrize("end_s", [330, 450])
def test_no_after_period_is_said_in_words(laboratory: Laboratory, run: Run, end_s: int) -> None:
    rows = curve().decode().split()
    cut = "\n".join([rows[0], *rows[1 : 2 + end_s // 15]]) + "\n"
    fired(run, laboratory)
    hand_in(run, cut.encode(), laboratory.group)
    fill_in(run, AFTER_FIRING, laboratory.group)
    run = runs.complete_run(run, by=laboratory.group)
    assert run.result is not None and run.result.c_j_per_k is None
    assert any("No after period" in why for why in run.result.outputs["periods"]["why"])


def test_the_same_computation_is_kept_once(laboratory: Laboratory, run: Run) -> None:
    fired(run, laboratory)
    hand_in(run, curve(), laboratory.group)
    fill_in(run, AFTER_FIRING, laboratory.group)
    before = Result.objects.count()
    runs.complete_run(run, by=laboratory.group)
    assert Result.objects.count() == before


def test_a_result_names_its_inputs_method_version_and_constants(
    laboratory: Laboratory, run: Run
) -> None:
    result = completed(run, laboratory).result
    assert result is not None and result.version
    assert result.inputs["charge_g"] == 0.9876
    assert result.inputs["method"]["rise"] == "regnault_pfaundler"
    assert result.inputs["readings"]["count"] == 81
    sources = {constant["name"]: constant["source"] for constant in result.outputs["constants"]}
    assert sources["benzoic acid, certificate"] and all(sources.values())


def test_striking_too_much_takes_the_old_value_with_it(laboratory: Laboratory, run: Run) -> None:
    run = completed(run, laboratory)
    old = run.result
    assert old is not None and old.c_j_per_k is not None
    readings.strike_readings(run, 1, 79, "probe out of the water", by=laboratory.group)
    run.refresh_from_db()
    assert run.result is not None and run.result != old
    assert run.result.c_j_per_k is None and "2 usable readings" in run.result.failure


def test_readings_typed_after_the_firing_show_at_once(laboratory: Laboratory, run: Run) -> None:
    rows = [line.split(",") for line in curve().decode().split()[1:]]
    for time, temperature in rows[:20]:
        typed_readings.add_typed_reading(run, time, temperature, by=laboratory.group)
    fired(run, laboratory)
    assert not Result.objects.exists(), "nothing is kept before the curve shows a rise"
    for time, temperature in rows[20:]:
        typed_readings.add_typed_reading(run, time, temperature, by=laboratory.group)
    assert shown(run) == ("", False)


def test_a_hidden_identity_gives_joules_per_gram_and_nothing_that_names_it(
    laboratory: Laboratory,
) -> None:
    run = completed(unknown(laboratory), laboratory, rise_k=2.31)
    assert run.result is not None
    assert run.result.du_j_per_g is not None and run.result.dch_kj_per_mol is None
    substance = laboratory.sample.substance
    for result in run.results.all():
        written = json.dumps([result.inputs, result.outputs]).lower()
        # 128.17 g/mol, the molar mass of C10H8 by IUPAC atomic weights.
        for told in (substance.name, substance.formula.lower(), "128.1", 'kj_per_mol": -5'):
            assert told not in written


def test_the_reveal_reduces_completed_runs_per_mole(laboratory: Laboratory) -> None:
    run = completed(unknown(laboratory), laboratory, rise_k=2.31)
    before = run.result
    samples.reveal_sample(laboratory.sample, by=laboratory.coordinator)
    run.refresh_from_db()
    assert run.result is not None and before is not None and run.result != before
    assert run.result.dch_kj_per_mol is not None
    assert run.result.du_j_per_g == before.du_j_per_g
    assert run.result.reason == "sample revealed"
    with pytest.raises(Refused, match="revealed already"):
        samples.reveal_sample(laboratory.sample, by=laboratory.coordinator)


def test_signs_of_wear_are_copied_from_the_outputs(laboratory: Laboratory) -> None:
    """Held against the curve the file was written from: leak 2 mK/(K min), tau 42 s, 0.1 mK steps.

    By its formula it starts 2.40 K below its surroundings; 95 % of a first-order rise is over
    after -tau ln 0.05.
    """
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    result = completed(run, laboratory).result
    assert result is not None
    leak, rate = 0.0020 / 60, 1 / 42
    assert result.fore_drift_k_per_s == pytest.approx(2.40 * leak, rel=0.02)
    # Once released, it leaks from this far above its surroundings, about 10 min after firing.
    above = 2.5 * rate / (rate - leak) - 2.40 * math.exp(-leak * 300)
    after_drift = -leak * above * math.exp(-leak * 600)
    assert result.after_drift_k_per_s == pytest.approx(after_drift, rel=0.1)
    assert result.time_to_95_s == pytest.approx(-42 * math.log(0.05), rel=0.05)
    assert result.noise_k is not None and 0 < result.noise_k < 1e-4


def test_noise_is_pooled_over_both_periods_by_their_degrees_of_freedom() -> None:
    """`s² = Σ(n − 2)s²/Σ(n − 2)`, worked by hand: (2·1² + 6·2²)/8 = 3.25."""
    lines = [{"n": 4, "residual_sd_k": 1.0}, {"n": 8, "residual_sd_k": 2.0}]
    assert pooled_noise_k(lines) == pytest.approx(math.sqrt(3.25))
    assert pooled_noise_k([{"n": 2, "residual_sd_k": None}, {}]) is None
