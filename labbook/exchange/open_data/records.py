"""The open records: every field with its type, its words and its unit, in one place.

The interface for programs answers with them as JSON, a data set holds them as tables.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any

from django.db.models import TextChoices
from pydantic import BaseModel, ConfigDict, Field, WithJsonSchema

from ...models import BenchConfiguration, ReadingBlock, Run, Standardization


def fact(words: str, unit: str = "") -> Any:
    """A field in words; ``unit`` is its UCUM code, where it has one."""
    return Field(description=words, json_schema_extra={"unit": unit} if unit else None)


def among(choices: type[TextChoices]) -> WithJsonSchema:
    """Text that is one of these. No enumeration: two of one name would be described as one."""
    return WithJsonSchema({"type": "string", "enum": choices.values})


JacketKind = Annotated[str, among(BenchConfiguration.JacketKind)]
StandardizationState = Annotated[str, among(Standardization.State)]
RunKind = Annotated[str, among(Run.Kind)]
RunState = Annotated[str, among(Run.State)]
Cause = Annotated[str, among(Run.Cause)]
Source = Annotated[str, among(ReadingBlock.Source)]


class Record(BaseModel):
    model_config = ConfigDict(frozen=True)


class TermRecord(Record):
    name: str = fact("The term, as it is called.")
    starts: date = fact("Its first day.")
    ends: date = fact("Its last day.")
    is_practice: bool = fact("A term to practise in; its readings are invented.")
    method: str = fact("The method its runs are opened with, and the method’s version.")


class BenchRecord(Record):
    code: str = fact("What the bench is called.")
    jacket: JacketKind | None = fact("The kind of its jacket.")
    thermometer_step_k: float | None = fact("What its thermometer reads to.", "K")
    nominal_water_g: float | None = fact("Bucket water its heat capacity is stated for.", "g")
    bomb_volume_ml: float | None = fact("Inner volume of the bomb.", "mL")


class BenchNow(BenchRecord):
    """A bench with how it stands, for programs that watch it."""

    in_service: bool = fact("Whether runs can be opened on it now.")
    standing: str = fact("How it stands against its own past.")
    standardization: int | None = fact("The standardization whose value is in force.")
    approved_at: datetime | None = fact("When that value was approved.")
    c_j_per_k: float | None = fact("Heat capacity of the calorimeter in force.", "J/K")
    half_width_95_j_per_k: float | None = fact("Half of its 95 % interval.", "J/K")


class StandardizationRecord(Record):
    number: int = fact("Its number in the record.")
    bench: str = fact("The bench it is of.")
    term: str = fact("The term it was made in.")
    group: int = fact("The group, by a number that stays the same.")
    state: StandardizationState = fact("Where it stands.")
    opened_at: datetime = fact("When it was begun.")
    approved_at: datetime | None = fact("When its mean was approved.")
    runs: int | None = fact("Runs the approved mean is of.")
    c_j_per_k: float | None = fact("The approved mean heat capacity.", "J/K")
    u_j_per_k: float | None = fact("Standard uncertainty of the mean.", "J/K")
    degrees_of_freedom: float | None = fact("Effective degrees of freedom of that.", "1")
    s_j_per_k: float | None = fact("Standard deviation of the runs.", "J/K")
    half_width_95_j_per_k: float | None = fact("Half of the mean’s 95 % interval.", "J/K")
    lapses_on: date | None = fact("The last day it is in force.")
    was_outside: bool = fact("Approved although outside the bench’s history.")


class PointRecord(Record):
    bench: str = fact("The bench.")
    standardization: int = fact("The standardization this value was approved from.")
    approved_at: datetime = fact("When it was approved.")
    phase: int = fact("Phases of the bench count from 1; its parts or water changed between two.")
    counts: bool = fact("Neither withdrawn nor left out for a proven cause.")
    runs: int = fact("Runs the value is the mean of.")
    c_j_per_k: float = fact("The approved heat capacity.", "J/K")
    s_j_per_k: float | None = fact("Standard deviation of the runs.", "J/K")
    half_width_95_j_per_k: float | None = fact("Half of its 95 % interval.", "J/K")
    standing: str = fact("How the bench stood with this value.")
    centre_j_per_k: float | None = fact("Central line it was held against.", "J/K")
    lower_j_per_k: float | None = fact("Lower limit for it.", "J/K")
    upper_j_per_k: float | None = fact("Upper limit for it.", "J/K")
    ewma_j_per_k: float | None = fact("Weighted mean of the latest values.", "J/K")


class RunRecord(Record):
    number: int = fact("Its number in the record.")
    term: str = fact("The term it was made in.")
    bench: str = fact("The bench it was burned on.")
    group: int = fact("The group, by a number that stays the same.")
    kind: RunKind = fact("What the firing was for.")
    replicate: int = fact("Which of the group’s runs of its kind.")
    state: RunState = fact("Where it stands.")
    cause: Cause | None = fact("Why it was set aside, where it was.")
    is_practice_term: bool = fact("Of a term to practise in; its readings may be invented.")
    standardization: int | None = fact("The standardization it belongs to.")
    rests_on: int | None = fact("The standardization whose heat capacity it uses.")
    sample: str | None = fact("The label of the sample.")
    is_hidden: bool = fact("Whether what is in the sample is still hidden.")
    substance: str | None = fact("What was burned, once it was revealed.")
    formula: str | None = fact("Its formula, once it was revealed.")
    method: str = fact("The method it is reduced by, and the method’s version.")
    opened_at: datetime = fact("When its sheet was begun.")
    fired_at: datetime | None = fact("When its firing was recorded.")
    completed_at: datetime | None = fact("When the group said that its data are complete.")


class ResultRecord(Record):
    run: int = fact("The run.")
    quantity: str = fact("What was found, such as heat_capacity or corrected_rise.")
    by_method: str = fact("The method it was found by.")
    is_used: bool = fact("False: another method’s rise, beside the one that was used.")
    value: float = fact("The value, in the unit of this row.")
    unit: str = fact("UCUM code of the unit.")
    standard_uncertainty: float | None = fact("Its standard uncertainty, in the same unit.")
    degrees_of_freedom: float | None = fact("Effective degrees of freedom; none: no limit.", "1")
    coverage_factor: float | None = fact("What expands it to 95 %.", "1")
    expanded_uncertainty: float | None = fact("Expanded uncertainty, 95 %, in the same unit.")


class ConstantRecord(Record):
    run: int = fact("The run.")
    number: int = fact("Counts the constants of the run.")
    name: str = fact("What it is.")
    value: float = fact("Its value, in the unit of this row.")
    unit: str = fact("UCUM code of the unit.")
    source: str = fact("Where the value is from.")


class InputRecord(Record):
    run: int = fact("The run.")
    key: str = fact("Its place in the run file: acid.titre_ml is titre_ml of acid.")
    number: float | None = fact("Its value, where it is a number, in the unit of this row.")
    text: str | None = fact("Its value, where it is words, true or false.")
    unit: str | None = fact("UCUM code of the number’s unit.")


class ReadingRecord(Record):
    run: int = fact("The run.")
    number: int = fact("The reading’s number in its run.")
    time_s: float = fact("Time by the clock of the readings; the firing need not be at 0.", "s")
    temperature_c: float = fact("Temperature of the bucket.", "Cel")
    source: Source = fact("Where it came from.")
    is_struck: bool = fact("Struck out: kept, and not used.")
