"""Open records made of what is stored."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from math import isfinite
from typing import Any

from ...lookups.open_data import inputs_kept, values_of
from ...lookups.phases import BenchHistory, Judged
from ...models import Bench, Run, Standardization, Term
from ...models.readings import unpack
from ..results import RESULTS
from .records import (
    BenchNow,
    BenchRecord,
    ConstantRecord,
    InputRecord,
    PointRecord,
    ReadingRecord,
    ResultRecord,
    RunRecord,
    StandardizationRecord,
    TermRecord,
)
from .units import ucum, unit_named_by

QUANTITIES = {
    "heat_capacity": "heat_capacity",
    "du": "energy_of_combustion_per_gram",
    "dcu": "energy_of_combustion_per_mole",
    "dch": "enthalpy_of_combustion_per_mole",
    "dfh": "enthalpy_of_formation_per_mole",
}
STRAIGHT_LINE = "straight_line"


def term_record(term: Term) -> TermRecord:
    return TermRecord(
        name=term.name,
        starts=term.starts,
        ends=term.ends,
        is_practice=term.is_practice,
        method=str(term.method),
    )


def bench_record(bench: Bench) -> BenchRecord:
    return BenchRecord(**_made_of(bench))


def bench_now(history: BenchHistory) -> BenchNow:
    in_force = history.in_force
    approval = in_force.approval if in_force else None
    return BenchNow(
        **_made_of(history.bench),
        in_service=history.bench.in_service,
        standing=history.standing,
        standardization=in_force.pk if in_force else None,
        approved_at=moment(approval.at) if approval else None,
        c_j_per_k=approval.c_j_per_k if approval else None,
        half_width_95_j_per_k=approval.half_width_j_per_k if approval else None,
    )


def _made_of(bench: Bench) -> dict[str, Any]:
    parts = bench.configuration
    return {
        "code": bench.code,
        "jacket": parts.jacket_kind if parts else None,
        "thermometer_step_k": float(parts.thermometer_step_k) if parts else None,
        "nominal_water_g": float(parts.nominal_water_g) if parts else None,
        "bomb_volume_ml": float(parts.bomb_volume_ml) if parts else None,
    }


def standardization_record(found: Standardization) -> StandardizationRecord:
    approval = found.approval
    return StandardizationRecord(
        number=found.pk,
        bench=found.bench.code,
        term=found.group.section.term.name,
        group=found.group_id,
        state=found.state,
        opened_at=moment(found.opened_at),
        approved_at=moment(approval.at) if approval else None,
        runs=approval.n if approval else None,
        c_j_per_k=approval.c_j_per_k if approval else None,
        u_j_per_k=approval.u_j_per_k if approval else None,
        degrees_of_freedom=approval.dof if approval else None,
        s_j_per_k=approval.s_j_per_k if approval else None,
        half_width_95_j_per_k=approval.half_width_j_per_k if approval else None,
        lapses_on=found.lapses_on,
        was_outside=found.was_outside,
    )


def point_record(history: BenchHistory, phase: int, judged: Judged) -> PointRecord:
    point, approval = judged.point, judged.point.approval
    return PointRecord(
        bench=history.bench.code,
        standardization=point.pk,
        approved_at=moment(point.at),
        phase=phase,
        counts=point.counts,
        runs=approval.n,
        c_j_per_k=approval.c_j_per_k,
        s_j_per_k=approval.s_j_per_k,
        half_width_95_j_per_k=approval.half_width_j_per_k,
        standing=judged.standing,
        centre_j_per_k=judged.centre,
        lower_j_per_k=judged.lower,
        upper_j_per_k=judged.upper,
        ewma_j_per_k=judged.ewma,
    )


def run_record(run: Run) -> RunRecord:
    term, sample = run.group.section.term, run.sample
    revealed = sample.substance if sample is not None and not sample.is_hidden else None
    return RunRecord(
        number=run.pk,
        term=term.name,
        bench=run.bench.code,
        group=run.group_id,
        kind=run.kind,
        replicate=run.replicate,
        state=run.state,
        cause=run.cause or None,
        is_practice_term=term.is_practice,
        standardization=run.standardization_id,
        rests_on=run.rests_on_id,
        sample=sample.label if sample else None,
        is_hidden=sample is not None and sample.is_hidden,
        substance=revealed.name if revealed else None,
        formula=revealed.formula if revealed else None,
        method=str(run.method),
        opened_at=moment(run.opened_at),
        fired_at=run.fired_at and moment(run.fired_at),
        completed_at=run.completed_at and moment(run.completed_at),
    )


def result_records(run: Run) -> Iterator[ResultRecord]:
    """Rises by every method, drifts, and what the energy balance gives."""
    values = values_of(run)
    if not values:
        return
    used = values["rise_used"]["method"]
    for method, rise in values["rise"].items():
        yield from _result(
            run, "corrected_rise", method, rise.get("rise_k"), "K", rise, is_used=method == used
        )
    for period, line in values["drift"].items():
        slope = (line or {}).get("slope_k_per_s")
        yield from _result(run, f"{period}_drift", STRAIGHT_LINE, slope, "K/s", {})
    budgets = values.get("budget") or {}
    for symbol, _, part, key, budget, unit in RESULTS:
        if symbol == "C" and values.get("combustion"):
            continue
        value = (values.get(part) or {}).get(key)
        sure = budgets.get(budget) or {}
        yield from _result(run, QUANTITIES[budget], used, value, unit, sure)


def _result(
    run: Run,
    quantity: str,
    method: str,
    value: float | None,
    unit: str,
    sure: dict[str, Any],
    *,
    is_used: bool = True,
) -> Iterator[ResultRecord]:
    """One row, or none where nothing was found."""
    if value is None or not isfinite(value):
        return
    yield ResultRecord(
        run=run.pk,
        quantity=quantity,
        by_method=method,
        is_used=is_used,
        value=value,
        unit=ucum(unit),
        standard_uncertainty=finite(sure.get("u", sure.get("u_k"))),
        degrees_of_freedom=finite(sure.get("dof")),
        coverage_factor=finite(sure.get("k")),
        expanded_uncertainty=finite(sure.get("expanded_u")),
    )


def constant_records(run: Run) -> Iterator[ConstantRecord]:
    for number, constant in enumerate(values_of(run).get("constants", []), start=1):
        yield ConstantRecord(
            run=run.pk,
            number=number,
            name=constant["name"],
            value=constant["value"],
            unit=ucum(constant["unit"]),
            source=constant["source"],
        )


def input_records(run: Run) -> Iterator[InputRecord]:
    """The run file of the result, one value a row, so that it can be reduced again."""
    inputs = inputs_kept(run)
    fuse = inputs.get("fuse") or {}
    basis = fuse.get("basis", "")
    by_key = {
        "fuse.value": basis,
        "fuse.u": basis,
        "fuse.used": basis.removeprefix("J/"),
        "substance.literature.u": "kJ/mol",
    }
    for key, value in _flat(inputs):
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        yield InputRecord(
            run=run.pk,
            key=key,
            number=value if is_number else None,
            text=None if is_number else _text(value),
            unit=(by_key.get(key) or unit_named_by(key) or "1") if is_number else None,
        )


def _text(value: object) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def _flat(value: Any, before: str = "") -> Iterator[tuple[str, Any]]:
    """Every value that is given, with its place: acid.titre_ml, aids.0.name."""
    pieces: Any = ()
    if isinstance(value, dict):
        pieces = value.items()
    elif isinstance(value, list):
        pieces = enumerate(value)
    elif value not in (None, ""):
        yield before, value
    for key, inner in pieces:
        yield from _flat(inner, f"{before}.{key}" if before else str(key))


def reading_records(run: Run, after: int = 0) -> Iterator[ReadingRecord]:
    """Every reading with a number above ``after``, as understood, in the order they came."""
    strikes = list(run.strikes.values_list("first_number", "last_number"))
    for block in run.blocks.defer("details").order_by("first_number"):
        pieces = zip(
            block.numbers.tolist(),
            unpack(block.times_s).tolist(),
            unpack(block.temperatures_c).tolist(),
            strict=True,
        )
        for number, time_s, temperature_c in pieces:
            if number > after:
                yield ReadingRecord(
                    run=run.pk,
                    number=number,
                    time_s=time_s,
                    temperature_c=temperature_c,
                    source=block.source,
                    is_struck=any(first <= number <= last for first, last in strikes),
                )


def moment(at: datetime) -> datetime:
    return at.astimezone(UTC)


def finite(value: float | None) -> float | None:
    return value if value is not None and isfinite(value) else None
