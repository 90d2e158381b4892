"""What locks a firing, and what a TA's unlocking opens: these figures and no others."""

from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from labbook.actions import runs, sheets
from labbook.actions.setup import change_configuration
from labbook.models import BenchConfiguration, Decision, Run
from labbook.problems import Refused

from ..conftest import Laboratory, head_changed, ready_to_fire, unknown


def ready(lab: Laboratory, **changes: str) -> Run:
    run = runs.open_standardization_run(lab.bench, by=lab.group)
    return ready_to_fire(run, lab, **changes)


def codes(refusal: pytest.ExceptionInfo[Refused]) -> set[tuple[str, str]]:
    return {(problem.code, problem.lock) for problem in refusal.value.problems}


# Limits of the fixture's bench: 1.1 g, 33 kJ and 30 atm, the published general cautions.
# 1.25 g of benzoic acid at 26 434 J/g (certificate SRM 39j) release 33.04 kJ.
OVER = {
    "charge": {"charge_gross_g": "14.1500"},
    "oxygen": {"oxygen_atm": "30.5"},
    "energy": {"charge_gross_g": "14.2500"},
}


@pytest.fixture
def generous_mass(laboratory: Laboratory) -> None:
    """A bench that takes more than the usual gram, so that the energy limit is met first."""
    configuration = BenchConfiguration.objects.get(bench=laboratory.bench)
    configuration.pk, configuration._state.adding = None, True
    configuration.since, configuration.reason = timezone.now(), "limits of the course"
    configuration.max_charge_g = Decimal("1.5")
    change_configuration(configuration, by=laboratory.coordinator)


@pytest.mark.parametrize("lock", ["charge", "oxygen"])
def test_over_a_limit_the_firing_is_locked(laboratory: Laboratory, lock: str) -> None:
    run = ready(laboratory, **OVER[lock])
    with pytest.raises(Refused) as refusal:
        runs.mark_fired(run, "300", by=laboratory.group)
    assert lock in {lock for _, lock in codes(refusal)}
    run.refresh_from_db()
    assert run.state == Run.State.OPEN and run.fired_at is None


@pytest.mark.usefixtures("generous_mass")
def test_too_much_energy_locks_the_firing(laboratory: Laboratory) -> None:
    run = ready(laboratory, **OVER["energy"])
    with pytest.raises(Refused, match=r"33.0 kJ; the limit of this vessel is 33.0 kJ") as refusal:
        runs.mark_fired(run, "300", by=laboratory.group)
    assert codes(refusal) == {("over-charge", "energy")}


@pytest.mark.usefixtures("generous_mass")
def test_leaving_the_lot_blank_does_not_get_round_the_energy_limit(laboratory: Laboratory) -> None:
    run = ready(laboratory, **OVER["energy"])
    sheets.enter_figure(run, "standard_lot", "", by=laboratory.group)
    with pytest.raises(Refused, match="“Standard, lot” is not filled in"):
        runs.mark_fired(run, "300", by=laboratory.group)


@pytest.mark.usefixtures("generous_mass")
@pytest.mark.parametrize("lock", ["oxygen", "energy"])
def test_a_reasoned_unlock_opens_the_firing(laboratory: Laboratory, lock: str) -> None:
    run = ready(laboratory, **OVER[lock])
    runs.unlock_limit(run, lock, "thick pellet, checked", by=laboratory.assistant)
    assert runs.mark_fired(run, "300", by=laboratory.group).state == Run.State.FIRED
    unlocked = run.decisions.get(deed=Decision.Deed.UNLOCKED)
    assert (unlocked.by, unlocked.reason) == (laboratory.assistant, "thick pellet, checked")


@pytest.mark.parametrize(
    ("lock", "key", "text"),
    [("charge", "charge_tare_g", "12.9999"), ("oxygen", "oxygen_atm", "31")],
)
def test_an_unlock_ends_when_its_figures_change(
    laboratory: Laboratory, lock: str, key: str, text: str
) -> None:
    run = ready(laboratory, **OVER[lock])
    runs.unlock_limit(run, lock, "checked", by=laboratory.assistant)
    sheets.enter_figure(run, key, text, by=laboratory.group)
    with pytest.raises(Refused) as refusal:
        runs.mark_fired(run, "300", by=laboratory.group)
    assert lock in {lock for _, lock in codes(refusal)}


def test_an_unlock_ahead_of_the_figures_opens_nothing(laboratory: Laboratory) -> None:
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    runs.unlock_limit(run, "oxygen", "in advance", by=laboratory.assistant)
    ready_to_fire(run, laboratory, **OVER["oxygen"])
    with pytest.raises(Refused, match=r"30.5 atm is above"):
        runs.mark_fired(run, "300", by=laboratory.group)


def test_unlocking_one_limit_leaves_the_others_locked(laboratory: Laboratory) -> None:
    run = ready(laboratory, **OVER["charge"], **OVER["oxygen"])
    runs.unlock_limit(run, "charge", "checked", by=laboratory.assistant)
    with pytest.raises(Refused) as refusal:
        runs.mark_fired(run, "300", by=laboratory.group)
    assert codes(refusal) == {("pressure", "oxygen")}


def test_an_unlock_needs_its_reason(laboratory: Laboratory) -> None:
    run = ready(laboratory, **OVER["oxygen"])
    with pytest.raises(Refused, match="needs its reason"):
        runs.unlock_limit(run, "oxygen", "  ", by=laboratory.assistant)


@pytest.mark.parametrize("who", ["group", "other_assistant"])
def test_neither_the_group_nor_another_sections_ta_unlocks(
    laboratory: Laboratory, who: str
) -> None:
    run = ready(laboratory, **OVER["oxygen"])
    with pytest.raises(PermissionDenied):
        runs.unlock_limit(run, "oxygen", "please", by=getattr(laboratory, who))


def test_a_leak_locks_the_firing_and_nobody_unlocks_it(laboratory: Laboratory) -> None:
    run = ready(laboratory, leak_check="leak")
    with pytest.raises(Refused, match=r"A leak was seen. Do not fire"):
        runs.mark_fired(run, "300", by=laboratory.group)
    with pytest.raises(Refused, match="not a limit of this sheet"):
        runs.unlock_limit(run, "leak", "it is small", by=laboratory.coordinator)
    sheets.enter_figure(run, "leak_check", "tight", by=laboratory.group)
    assert runs.mark_fired(run, "300", by=laboratory.group).state == Run.State.FIRED


def test_the_samples_own_charge_limit_holds(laboratory: Laboratory) -> None:
    run = ready_to_fire(unknown(laboratory), laboratory, charge_gross_g="13.7001")
    with pytest.raises(Refused, match=r"0.7001 g; the limit here is 0.7 g"):
        runs.mark_fired(run, "300", by=laboratory.group)
    sheets.enter_figure(run, "charge_gross_g", "13.7000", by=laboratory.group)
    assert runs.mark_fired(run, "300", by=laboratory.group).state == Run.State.FIRED


def test_firing_names_every_figure_still_missing(laboratory: Laboratory) -> None:
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    with pytest.raises(Refused) as refusal:
        runs.mark_fired(run, "300", by=laboratory.group)
    missing = {problem.field for problem in refusal.value.problems if problem.code == "missing"}
    assert missing == {
        "standard_lot", "fuse_lot", "charge_gross_g", "charge_tare_g", "fuse_before",
        "water_ml", "oxygen_atm", "leak_check",
    }  # fmt: skip


def test_a_refused_firing_leaves_no_moment_on_the_sheet(laboratory: Laboratory) -> None:
    run = ready(laboratory, **OVER["oxygen"])
    with pytest.raises(Refused):
        runs.mark_fired(run, "300", by=laboratory.group)
    assert not run.entries.filter(field="fired_at_s").exists()


def test_a_pellet_lighter_than_nothing_is_refused(laboratory: Laboratory) -> None:
    run = ready(laboratory, charge_gross_g="12.0000")
    with pytest.raises(Refused, match=r"is -1.0000 g. Check both masses"):
        runs.mark_fired(run, "300", by=laboratory.group)


def test_a_bench_taken_out_of_service_is_not_fired(laboratory: Laboratory) -> None:
    run = ready(laboratory)
    laboratory.bench.in_service = False
    laboratory.bench.save()
    with pytest.raises(Refused, match=r"out of service. Do not fire"):
        runs.mark_fired(run, "300", by=laboratory.group)


def test_a_bench_changed_since_opening_is_not_fired(laboratory: Laboratory) -> None:
    run = ready(laboratory)
    head_changed(laboratory)
    with pytest.raises(Refused, match="“new head”"):
        runs.mark_fired(run, "300", by=laboratory.group)


def test_a_firing_is_marked_once(laboratory: Laboratory) -> None:
    run = runs.mark_fired(ready(laboratory), "300", by=laboratory.group)
    with pytest.raises(Refused, match="was marked before"):
        runs.mark_fired(run, "310", by=laboratory.group)
    with pytest.raises(Refused, match="nothing left to unlock"):
        runs.unlock_limit(run, "oxygen", "late", by=laboratory.assistant)
