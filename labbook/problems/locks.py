"""The limits that lock a firing, and whether a TA unlocked them for the figures as they stand."""

from __future__ import annotations

from decimal import Decimal

from ..lookups.predictions import predicted_energy_kj
from ..lookups.sheets import Sheet
from ..models import Decision, Run
from .refusals import Problem

# An unlock holds for these figures: it ends when one of them changes.
LOCK_FIELDS = {
    "charge": ("charge_gross_g", "charge_tare_g"),
    "energy": (
        "charge_gross_g", "charge_tare_g", "standard_lot", "thread_mass_g",
        "aid_lot", "aid_mass_g", "second_aid_lot", "second_aid_mass_g",
    ),
    "oxygen": ("oxygen_atm",),
}  # fmt: skip
LOCK_WORDS = {"charge": "most charge", "energy": "most energy", "oxygen": "most oxygen pressure"}


def limits_exceeded(run: Run, sheet: Sheet) -> list[Problem]:
    """Every limit this sheet goes over that no TA unlocked; each locks the firing."""
    over = [*_charge_over(run, sheet), *_energy_over(run, sheet), *_oxygen_over(run, sheet)]
    return [problem for problem in over if not is_unlocked(run, sheet, problem.lock)]


def _charge_over(run: Run, sheet: Sheet) -> list[Problem]:
    charge, limit = sheet.charge_g, run.configuration.max_charge_g
    if run.sample is not None:
        limit = min(limit, run.sample.charge_limit_g)
    if charge is None or charge <= limit:
        return []
    sentence = (
        f"The charge is {charge} g; the limit here is {limit.normalize():f} g. "
        "Press a smaller pellet, or ask your TA to unlock this firing with a reason."
    )
    return [Problem("over-charge", "B", sentence, "charge_gross_g", lock="charge")]


def _energy_over(run: Run, sheet: Sheet) -> list[Problem]:
    energy, limit = predicted_energy_kj(run, sheet), run.configuration.max_energy_kj
    if energy is None or energy <= limit:
        return []
    sentence = (
        f"This charge would release {energy:.1f} kJ; the limit of this vessel is {limit} kJ. "
        "Press a smaller pellet, or ask your TA to unlock this firing with a reason."
    )
    return [Problem("over-charge", "B", sentence, "charge_gross_g", lock="energy")]


def _oxygen_over(run: Run, sheet: Sheet) -> list[Problem]:
    pressure, limit = sheet.number("oxygen_atm"), run.configuration.max_oxygen_atm
    if pressure is None or pressure <= limit:
        return []
    sentence = (
        f"Oxygen pressure {_plain(pressure)} atm is above this bench’s limit of {limit} atm. "
        "Let it down slowly, or ask your TA to unlock this firing with a reason."
    )
    return [Problem("pressure", "B", sentence, "oxygen_atm", lock="oxygen")]


def _plain(number: Decimal) -> str:
    return f"{number:f}"


def is_unlocked(run: Run, sheet: Sheet, lock: str) -> bool:
    """Whether a TA unlocked this limit for the figures as they now stand."""
    decisions = run.decisions.all()  # fetched at once where many runs are looked at
    unlocks = [d for d in decisions if d.deed == Decision.Deed.UNLOCKED and d.new == lock]
    return bool(unlocks) and holds(unlocks[-1], sheet)


def holds(unlock: Decision, sheet: Sheet) -> bool:
    """Whether the figures of an unlocking are still those the TA saw."""
    entries = (sheet.current.get(field) for field in LOCK_FIELDS[unlock.new])
    return all(entry is None or entry.at <= unlock.at for entry in entries)
