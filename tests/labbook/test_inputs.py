"""What of a sheet, its lots and its method reaches the reduction."""

from __future__ import annotations

import pytest

from labbook.actions import runs, setup
from labbook.actions.sheets import enter_figure
from labbook.actions.typed_readings import add_typed_reading
from labbook.lookups.inputs import heat_of_standard_j_per_g, inputs_of
from labbook.lookups.readings import readings_of
from labbook.lookups.sheets import Sheet
from labbook.models import AidLot, Method, Run, StandardLot

from .conftest import Laboratory, completed, fill_in


def opened(lab: Laboratory) -> Run:
    return runs.open_standardization_run(lab.bench, by=lab.group)


def test_aids_burn_with_their_own_heat(laboratory: Laboratory) -> None:
    AidLot.objects.create(code="O1", material="oil", j_per_g="46000", source="own blanks")
    run = opened(laboratory)
    fill_in(run, {"aid_lot": "O1", "aid_mass_g": "0.0200"}, laboratory.group)
    run = completed(run, laboratory)
    assert run.result is not None
    assert run.result.outputs["heat"]["aids_j"] == pytest.approx(0.02 * 46000)


def test_bucket_water_by_volume_stands_in_for_weighing(laboratory: Laboratory) -> None:
    run = opened(laboratory)
    by_volume = {
        "bucket_gross_g": "", "bucket_tare_g": "",
        "bucket_volume_ml": "2000", "bucket_temperature_c": "23.0",
    }  # fmt: skip
    run = completed(run, laboratory, **by_volume)
    assert run.result is not None
    # 997.541 kg/m³ at 23 °C (IAPWS-95): 1995.08 g, so C at 2000 g is 4.92 g × 4.182 J/(g K) more.
    capacity = run.result.outputs["heat_capacity"]
    moved = capacity["at_nominal_water_j_per_k"] - capacity["j_per_k"]
    assert moved == pytest.approx((2000 - 2 * 997.541) * 4.182, rel=2e-3)


def test_a_standard_may_come_as_a_literature_value_per_mole(laboratory: Laboratory) -> None:
    lot = StandardLot.objects.get(code="S1")
    lot.value_j_per_g = lot.u_j_per_g = None
    lot.literature, lot.literature_kj_per_mol = "dch", "-3226.87"
    lot.certificate = "NIST Chemistry WebBook, 1969 value"
    setup.save_setup(lot, by=laboratory.coordinator)
    # ΔcU = ΔcH − Δn·RT with Δn = −0.5; M(C7H6O2) = 122.123 g/mol.
    by_hand = (3226.87 - 0.5 * 8.314462618e-3 * 298.15) / 0.122123
    assert heat_of_standard_j_per_g(lot) == pytest.approx(by_hand, rel=1e-5)
    run = completed(opened(laboratory), laboratory)
    assert run.result is not None and run.result.c_j_per_k is not None


def test_the_course_decides_what_is_worth_a_note(laboratory: Laboratory) -> None:
    run = opened(laboratory)
    run = completed(run, laboratory, bucket_gross_g="2793.0")
    assert "other_bucket_water" in note_codes(run)
    method = setup.keep_method(
        Method(name="first year", thresholds={"water_g": 10.0}), by=laboratory.coordinator
    )
    Run.objects.filter(pk=run.pk).update(method=method)
    run = Run.objects.get(pk=run.pk)
    enter_figure(run, "titre_ml", "8.0", by=laboratory.group, reason="read again")
    assert "other_bucket_water" not in note_codes(Run.objects.get(pk=run.pk))


def note_codes(run: Run) -> set[str]:
    assert run.result is not None
    return {note["code"] for note in run.result.outputs["notes"]}


def test_readings_go_in_as_they_came(laboratory: Laboratory) -> None:
    run = opened(laboratory)
    for time in ("0", "30", "15"):
        add_typed_reading(run, time, "23.1", by=laboratory.group)
    inputs = inputs_of(run, Sheet(run), readings_of(run))
    assert inputs["readings"]["time_s"] == [0.0, 30.0, 15.0]
