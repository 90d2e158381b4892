"""The flow from a first standardization run to an unknown, and each refusal on the way."""

import pytest

from labbook.actions import runs, samples, sheets, standardizations
from labbook.lookups.history import history_of
from labbook.lookups.standardizations import approval_in_force
from labbook.models import Run
from labbook.problems import Refused

from .conftest import Laboratory, approved, completed, standardized


def test_the_afternoon_from_standardization_to_enthalpy(laboratory: Laboratory) -> None:
    found = approved(laboratory)
    # m·b·|Δu| = 0.9876 g × 26 454.1 J/g (26 434 J/g, NIST SRM 39j, weighed in air) = 26 126.1 J;
    # fuse 8.0 cm × 9.6 J/cm = 76.8 J; acid 7.9 mL × 0.0709 mol/L × 59.7 kJ/mol = 33.4 J.
    by_hand = (0.9876 * 26454.1 + 76.8 + 33.44) / 2.5
    assert found.approved_c_j_per_k == pytest.approx(by_hand, rel=5e-4)
    assert approval_in_force(laboratory.bench) == found

    run = runs.open_unknown_run(laboratory.bench, laboratory.sample, by=laboratory.group)
    run = completed(run, laboratory, rise_k=2.31)
    assert run.result.du_j_per_g is not None
    assert run.result.dch_kj_per_mol is None
    samples.reveal_sample(laboratory.sample, by=laboratory.coordinator)
    run.refresh_from_db()
    # ΔcH = M·Δcu + Δn·RT with M(C10H8) = 128.174 g/mol and Δn = −2.
    molar = 0.128174 * run.result.du_j_per_g - 2 * 8.314462618e-3 * 298.15
    assert run.result.dch_kj_per_mol == pytest.approx(molar, abs=0.05)
    standing = history_of(laboratory.bench, laboratory.coordinator)[0]
    assert [point.approval.c_j_per_k for point in standing.points] == [found.approved_c_j_per_k]


def test_an_unknown_is_refused_before_approval(laboratory: Laboratory) -> None:
    standardizations.put_forward(standardized(laboratory), by=laboratory.group)
    with pytest.raises(Refused, match="no approved standardization in force"):
        runs.open_unknown_run(laboratory.bench, laboratory.sample, by=laboratory.group)


def test_completing_names_every_missing_field(laboratory: Laboratory) -> None:
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    with pytest.raises(Refused) as refusal:
        runs.complete_run(run, by=laboratory.group)
    codes = {problem.field for problem in refusal.value.problems}
    assert {"charge_gross_g", "fuse_left", "bucket_gross_g"} <= codes


def test_a_figure_is_kept_as_typed(laboratory: Laboratory) -> None:
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    sheets.enter_figure(run, "charge_gross_g", "1.0000", by=laboratory.group)
    assert Run.objects.get(pk=run.pk).entries.get().text == "1.0000"
