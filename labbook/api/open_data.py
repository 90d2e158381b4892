"""What is on record, to read: terms, benches and their histories, runs, readings, results.

No names leave by it; what is in a sample is said once it was revealed. Units are UCUM codes, in
the member ``unit`` of a value or of a field's description here; moments are ISO 8601 in UTC.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from itertools import islice
from typing import Annotated, Any, cast

from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from ninja import Query, Router, Schema
from pydantic import Field

from ..access import require
from ..exchange.open_data import rows
from ..exchange.open_data.records import (
    BenchNow,
    ConstantRecord,
    InputRecord,
    PointRecord,
    ReadingRecord,
    ResultRecord,
    RunRecord,
    StandardizationRecord,
    TermRecord,
)
from ..lookups.benches import visible_benches
from ..lookups.history import EVER, histories, history_of
from ..lookups.open_data import (
    Asked,
    judged_of,
    open_runs,
    open_standardizations,
    open_terms,
    summary_numbers,
)
from ..models import Account, Run
from .answers import Refusal
from .tokens import FromProgram, ProgramToken

router = Router(tags=["open data"], auth=ProgramToken())
REFUSALS = {401: Refusal, 422: Refusal, 429: Refusal}
OF_ONE = REFUSALS | {404: Refusal}
LARGEST_NUMBER = 2**63 - 1
MOST_RUNS, MOST_READINGS = 200, 5000

Number = Annotated[int, Field(ge=1, le=LARGEST_NUMBER, description="Its number in the record.")]
After = Annotated[
    int, Field(ge=0, le=LARGEST_NUMBER, description="Those with a number above this one.")
]
Most = Annotated[int, Field(ge=1, le=MOST_READINGS, description="At most so many.")]
NEXT = "What to ask for with “after” next; none when these are the last."


class Terms(Schema):
    """The terms, the newest first."""

    terms: list[TermRecord] = Field(description="Each term.")


class Benches(Schema):
    """The benches with how they stand."""

    benches: list[BenchNow] = Field(description="Each bench.")


class History(Schema):
    """A bench's approved heat capacities, oldest first."""

    bench: BenchNow = Field(description="The bench with how it stands.")
    reasons: list[str] = Field(description="Why it stands so, in sentences.")
    points: list[PointRecord] = Field(description="Each approved value.")


class Runs(Schema):
    """Some runs, by their number."""

    runs: list[RunRecord] = Field(description="Each run.")
    next_after: int | None = Field(description=NEXT)


class Readings(Schema):
    """Some readings of a run, by their number."""

    readings: list[ReadingRecord] = Field(description="Each reading.")
    next_after: int | None = Field(description=NEXT)


class Result(Schema):
    """The newest result of a run, with what it was computed from."""

    run: int = Field(description="The run.")
    at: datetime | None = Field(description="When it was computed; none: there is no result yet.")
    version: str = Field(description="The version of the reduction.")
    method: str = Field(description="The method the run is reduced by, and its version.")
    failure: str = Field(description="Why there are no values, in a sentence.")
    values: list[ResultRecord] = Field(description="What was found, with its uncertainty.")
    constants: list[ConstantRecord] = Field(description="What it took as known.")
    inputs: list[InputRecord] = Field(description="What else it was computed from.")


class OneStandardization(StandardizationRecord):
    """A standardization with the numbers of its runs."""

    all_runs: list[int] = Field(description="Every run of it, by number.")
    counted_runs: list[int] = Field(description="Those that count for its mean now.")


class RunsAsked(Schema):
    """Which runs; what is left out asks for all."""

    term: str = Field("", max_length=40, description="The name of a term.")
    bench: str = Field("", max_length=12, description="The code of a bench.")
    state: Run.State | None = Field(None, description="Where they stand.")
    since: date | None = Field(None, description="Begun on this day, by UTC, or later.")
    practice: bool = Field(False, description="Also those of terms to practise in.")
    after: int = Field(
        0, ge=0, le=LARGEST_NUMBER, description="Those with a number above this one."
    )
    limit: int = Field(50, ge=1, le=MOST_RUNS, description="At most so many.")


@router.get("terms", response={200: Terms, **REFUSALS}, url_name="open_terms")
def terms(request: HttpRequest) -> Any:
    """The terms there are."""
    require(account_of(request), "see benches")
    return {"terms": [rows.term_record(term) for term in open_terms()]}


@router.get("benches", response={200: Benches, **REFUSALS}, url_name="open_benches")
def benches(request: HttpRequest) -> Any:
    """The benches, each with the heat capacity in force and how it stands."""
    return {"benches": [rows.bench_now(found) for found in histories(account_of(request))]}


@router.get("benches/{code}/history", response={200: History, **OF_ONE}, url_name="open_history")
def history(request: HttpRequest, code: str) -> Any:
    """Every value approved on a bench, against its own past."""
    account = account_of(request)
    bench = get_object_or_404(visible_benches(account), code=code)
    found, _ = history_of(bench, account, EVER)
    return {
        "bench": rows.bench_now(found),
        "reasons": list(found.reasons),
        "points": [rows.point_record(found, *one) for one in judged_of(found)],
    }


@router.get("runs", response={200: Runs, **REFUSALS}, url_name="open_runs")
def runs(request: HttpRequest, asked: Query[RunsAsked]) -> Any:
    """Runs within the reach of the token's account, by their number."""
    wanted = Asked(
        asked.term, asked.bench, asked.state or "", asked.since, with_practice=asked.practice
    )
    found = open_runs(account_of(request), wanted).filter(pk__gt=asked.after)
    return _some("runs", map(rows.run_record, found[: asked.limit + 1]), asked.limit)


@router.get("runs/{number}", response={200: RunRecord, **OF_ONE}, url_name="open_run")
def run(request: HttpRequest, number: Number) -> Any:
    """One run."""
    return rows.run_record(_run(request, number))


@router.get("runs/{number}/readings", response={200: Readings, **OF_ONE}, url_name="open_readings")
def readings(
    request: HttpRequest,
    number: Number,
    after: After = 0,
    limit: Most = MOST_READINGS,
) -> Any:
    """The readings of a run in the order they came, also those struck out."""
    found = rows.reading_records(_run(request, number), after)
    return _some("readings", found, limit)


@router.get("runs/{number}/result", response={200: Result, **OF_ONE}, url_name="open_result")
def result(request: HttpRequest, number: Number) -> Any:
    """What was found, with its uncertainty, the constants with their sources, and the inputs."""
    of = _run(request, number)
    kept = of.result
    return Result(
        run=of.pk,
        at=rows.moment(kept.at) if kept else None,
        version=kept.version if kept else "",
        method=str(of.method),
        failure=kept.failure if kept else "",
        values=list(rows.result_records(of)),
        constants=list(rows.constant_records(of)),
        inputs=list(rows.input_records(of)),
    )


@router.get(
    "standardizations/{number}",
    response={200: OneStandardization, **OF_ONE},
    url_name="open_standardization",
)
def standardization(request: HttpRequest, number: Number) -> Any:
    """One standardization, with the value approved from it."""
    found = get_object_or_404(open_standardizations(account_of(request)), pk=number)
    every, counted = summary_numbers(found)
    record = rows.standardization_record(found).model_dump()
    return OneStandardization(**record, all_runs=every, counted_runs=counted)


def account_of(request: HttpRequest) -> Account:
    return cast(FromProgram, request).auth.account


def _run(request: HttpRequest, number: int) -> Run:
    return get_object_or_404(open_runs(account_of(request)), pk=number)


def _some(name: str, found: Iterable[Any], limit: int) -> dict[str, Any]:
    """The first of what was found; one more shows that there are more."""
    some = list(islice(found, limit + 1))
    more = len(some) > limit
    return {name: some[:limit], "next_after": some[limit - 1].number if more else None}
