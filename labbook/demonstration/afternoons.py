"""What a group does on its afternoon: standardize its bench, have it approved, burn unknowns."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from math import prod
from typing import Any

import numpy as np

from ..actions.misfires import report_misfire
from ..actions.runs import (
    open_other_run,
    open_standardization_run,
    open_unknown_run,
    set_run_aside,
    sign_run,
    unlock_limit,
)
from ..actions.samples import issue_sample
from ..actions.setup import save_setup
from ..actions.standardizations import approve, put_forward, send_back, withdraw
from ..lookups.inputs import heat_of_standard_j_per_g
from ..lookups.standardizations import summary_of
from ..models import Bench, Run, Sample, Standardization, Unlock
from ..problems import Refused
from .burns import Afternoon, Burn, draw_burn, standard_charge, unknown_charge
from .by_hand import work_by_hand
from .course_dates import YEAR
from .hands import (
    Hand,
    Slip,
    absent_one,
    burn_logged,
    burn_typed,
    correct,
    fire,
    hand_in_file,
    misread,
    prepare,
    tick,
)
from .laboratory import Laboratory
from .terms import Team

OUTSIDE = "Masses, wire and water checked at the bench; the coordinator looks at it this week."
MISREAD = Slip("charge_tare_g", "0.01", "digit misread on the balance")
UNNOTICED = Slip("charge_tare_g", "0.1", "tare looked up in the balance's list", at_once=False)
BURETTE = Slip("titre_ml", "1.0", "burette read again", at_once=False)
OVER_LIMIT_G, SHORT_OF_WATER_G, UNTARED, OVERFILLED = 1.1243, 1950.0, 1.016, 1.010
# How much too high C comes out, unseen by the group: the balance, or water that was not weighed.
TOO_HIGH = {"withdrawn": UNTARED, "outside": OVERFILLED}


@dataclass(frozen=True)
class Spoiled:
    """How a spoiled run shows: heat not seen, on the sheet, in the TA's words."""

    lost: float
    written: dict[str, str]
    remark: str


SPOILED = {
    Run.Cause.SOOT: Spoiled(
        0.021, {"soot": "much", "residue_mg": "4.2"}, "Black crucible: burned incompletely."
    ),
    Run.Cause.SPILL: Spoiled(
        -0.013, {"remarks": "Splashed as the lid went on."}, "Water spilled from the bucket."
    ),
}


@dataclass
class Work:
    """One group on one bench on one afternoon; ``number`` counts these from the first."""

    laboratory: Laboratory
    bench: Bench
    number: int
    hand: Hand
    kind: Afternoon
    by_hand: bool = True

    @property
    def rng(self) -> np.random.Generator:
        return self.hand.rng

    def meets_with(self, incident: str) -> bool:
        return self.laboratory.scenario.meets_with(incident, self.number)


def begin(
    laboratory: Laboratory, team: Team, number: int, starts: datetime, latest: datetime
) -> Work:
    """Book the group on its bench and draw what is particular to the afternoon."""
    rng = laboratory.rng(1, number)
    place = (number - 1) % len(laboratory.benches)
    bench, truth = laboratory.benches[place], laboratory.scenario.benches[place]
    team.group.bench = bench
    save_setup(team.group, by=laboratory.maker)
    years = (starts - laboratory.started) / YEAR
    meets_with = laboratory.scenario.meets_with
    capacity = truth.true_heat_capacity(years, bench.code in laboratory.changed)
    too_high = (factor for incident, factor in TOO_HIGH.items() if meets_with(incident, number))
    kind = Afternoon(
        bench=truth,
        heat_capacity_j_per_k=capacity * prod(too_high),
        wire=laboratory.wires[bench.code],
        scatter=truth.scatter_factor * rng.uniform(0.002, 0.004),
        is_typed=number % 10 == 3 or meets_with("reading_slip", number),
    )
    hand = Hand(team, absent_one(team.members, rng), rng, starts, latest)
    return Work(laboratory, bench, number, hand, kind)


def spend(work: Work, samples: list[Sample]) -> None:
    """A whole past afternoon, signed at its end."""
    sample = samples[work.number % len(samples)]
    give(work, sample)
    if work.meets_with("practice"):
        practise(work)
    standardization = standardize(work, count_of_runs(work))
    have_approved(work, standardization)
    if work.number % 4:
        burn_unknown(work, sample)
    if work.number % 10 == 5:
        burn_unknown(work, sample)
    sign_all(work)
    if work.meets_with("withdrawn"):
        _withdraw_later(work, standardization)


def give(work: Work, sample: Sample) -> None:
    """The TA hands the group its vial; from bench to bench the labels differ."""
    work.hand.ask(issue_sample, sample, work.hand.team.group, "Unknown of this afternoon.")


def count_of_runs(work: Work) -> int:
    if work.meets_with("two_runs"):
        return 2
    return 4 if work.meets_with("four_runs") else 3


def practise(work: Work) -> None:
    run = work.hand.do(open_other_run, work.bench, Run.Kind.PRACTICE)
    _burn(work, run, draw_standard(work), standard_lot(work))


def standardize(work: Work, count: int) -> Standardization:
    """Burn the standard until so many runs count; what goes wrong is repeated."""
    if work.meets_with("misfire"):
        _misfire(work)
    for cause in (Run.Cause.SOOT, Run.Cause.SPILL):
        if work.meets_with(cause):
            _spoil(work, cause)
    runs = [burn_standard(work, index) for index in range(count)]
    standardization = runs[0].standardization
    assert standardization is not None
    return standardization


def burn_standard(work: Work, index: int) -> Run:
    run: Run = work.hand.do(open_standardization_run, work.bench)
    if index == 0 and work.meets_with("unlocked"):
        burn = draw_standard(work, mass_g=OVER_LIMIT_G)
        return _burn(work, run, burn, standard_lot(work), unlocks=True)
    if index != 1:
        slip_at = 5 if index == 0 and work.meets_with("reading_slip") else None
        return _burn(work, run, draw_standard(work), standard_lot(work), slip_at=slip_at)
    water = SHORT_OF_WATER_G if work.meets_with("other_water") else None
    burn = draw_standard(work) if water is None else draw_standard(work, water_g=water)
    run = _burn(work, run, burn, standard_lot(work), slip=_slip(work))
    if work.meets_with("late_slip"):
        correct(work.hand, run, BURETTE.field, burn.after[BURETTE.field], BURETTE.reason)
    return run


def _slip(work: Work) -> Slip | None:
    slips = {"figure_slip": MISREAD, "late_slip": BURETTE, "sent_back": UNNOTICED}
    return next((slip for incident, slip in slips.items() if work.meets_with(incident)), None)


def draw_standard(work: Work, **particulars: Any) -> Burn:
    lot = work.laboratory.standard
    charge = standard_charge(heat_of_standard_j_per_g(lot), float(lot.density_g_per_cm3))
    return draw_burn(work.rng, work.kind, charge, **particulars)


def standard_lot(work: Work) -> dict[str, str]:
    return {"standard_lot": work.laboratory.standard.code}


def _burn(
    work: Work,
    run: Run,
    burn: Burn,
    lots: dict[str, str],
    *,
    slip: Slip | None = None,
    slip_at: int | None = None,
    unlocks: bool = False,
) -> Run:
    """From the empty sheet to the completed run."""
    prepare(work.hand, run, lots | burn.before, slip)
    if unlocks:
        work.hand.wait(seconds=90)
        reason = "Pellet pressed heavy; its energy is well below the vessel's limit."
        work.hand.ask(unlock_limit, run, "charge", reason)
    tick(work.hand, run)
    work.hand.wait(seconds=54)
    if work.kind.is_typed:
        run = burn_typed(work.hand, run, burn, slip, slip_at)
    else:
        run = burn_logged(work.hand, run, burn, slip, work.number)
    if work.by_hand and run.group.section.term.ours_unlock == Unlock.HAND_FIGURES:
        rng = work.laboratory.rng(5, run.pk)
        work_by_hand(work.hand, run, rng, forgets_sign=work.meets_with("sign_forgotten"))
    return run


def _misfire(work: Work) -> None:
    """The charge does not light; the group says so and starts again."""
    hand, burn = work.hand, draw_standard(work, lights=False)
    run = hand.do(open_standardization_run, work.bench)
    prepare(hand, run, standard_lot(work) | burn.before)
    tick(hand, run)
    started = hand.moment
    hand.wait(seconds=330)
    run = fire(hand, run, burn)
    hand.wait(seconds=420)
    hand_in_file(hand, run, burn, work.number, started)
    hand.do(report_misfire, run, "No rise after firing; the wire had come off its post.")


def _spoil(work: Work, cause: Run.Cause) -> None:
    """A run that the TA sets aside, with its cause."""
    run = work.hand.do(open_standardization_run, work.bench)
    spoiled = SPOILED[cause]
    burn = draw_standard(work, lost=spoiled.lost)
    burn = replace(burn, after=burn.after | spoiled.written)
    run = _burn(work, run, burn, standard_lot(work))
    work.hand.wait(minutes=2)
    work.hand.ask(set_run_aside, run, cause, spoiled.remark)


def have_approved(work: Work, standardization: Standardization) -> None:
    hand = work.hand
    hand.wait(minutes=3)
    hand.do(put_forward, standardization)
    hand.wait(minutes=4)
    if work.meets_with("sent_back"):
        reason = "Run 2 lies far from the others: check its masses against the balance's list."
        hand.ask(send_back, standardization, reason)
        _set_right(work, standardization)
        hand.do(put_forward, standardization)
        hand.wait(minutes=3)
    seen = summary_of(standardization).seen
    try:
        hand.ask(approve, standardization, seen=seen)
    except Refused:
        hand.ask(approve, standardization, seen=seen, reason=OUTSIDE)


def _set_right(work: Work, standardization: Standardization) -> None:
    run = standardization.runs.get(replicate=2)
    wrong = run.entries.get(field=UNNOTICED.field).text
    right = misread(wrong, f"-{UNNOTICED.by}")
    correct(work.hand, run, UNNOTICED.field, right, UNNOTICED.reason)


def burn_unknown(work: Work, sample: Sample) -> Run:
    work.hand.wait(minutes=3)
    run = work.hand.do(open_unknown_run, work.bench, sample)
    return _burn(work, run, draw_unknown(work, sample), {})


def draw_unknown(work: Work, sample: Sample) -> Burn:
    charge = unknown_charge(sample.substance, float(sample.charge_limit_g))
    return draw_burn(work.rng, work.kind, charge)


def sign_all(work: Work) -> None:
    work.hand.wait(minutes=4)
    runs = work.hand.team.group.runs.filter(state=Run.State.COMPLETE)
    for run in runs.order_by("pk"):
        work.hand.ask(sign_run, run)


def _withdraw_later(work: Work, standardization: Standardization) -> None:
    work.hand.wait(hours=20)
    reason = "The bucket balance had not been tared that afternoon: the water is not known."
    work.hand.ask(withdraw, standardization, reason)
