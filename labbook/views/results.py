"""The result of a run: rises side by side, the energy balance, C or the heats of combustion."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.views.decorators.http import require_POST

from ..access import may
from ..forms.notes import ShownNote
from ..lookups.hand_comparison import comparison_of
from ..lookups.outputs import kept_outputs, outputs_of, sampled_of
from ..lookups.readings import readings_of
from ..lookups.sheets import Sheet
from ..models import Run, Standardization
from ..parts import page
from ..plots.methods import method_rows
from ..problems import refuse
from ..requests import SignedIn
from ..typesetting.budgets import TITLES, budgets_shown, rounded_by
from ..typesetting.corrections import CORRECTIONS
from ..typesetting.methods import METHODS
from .next_step import may_answer
from .noted import happenings_context, notes_noted
from .readings import curve_context
from .runs import run_or_404
from .steps import steps_of


def run_result(request: SignedIn, pk: int) -> HttpResponse:
    run = run_or_404(request, pk)
    return page(request, "runs/result.html", _context(request, run))


def _context(request: SignedIn, run: Run) -> dict[str, Any]:
    sheet, readings = Sheet(run), readings_of(run)
    outputs = outputs_of(run, sheet, readings, request.user)
    curve, noted = curve_context(run, readings, outputs), notes_noted([run])
    return {
        "run": run,
        "tab": "result",
        "steps": steps_of(run),
        "result": run.result,
        "is_kept": outputs.is_kept,
        "comparison": comparison_of(run, request.user),
        "methods": method_rows(outputs.values) if outputs.values else [],
        "earlier_results": [] if outputs.withheld else list(run.results.select_related("by"))[1:],
        "decisions": run.decisions.select_related("by"),
        "withdrawn": _withdrawn(run),
        "may_answer": may_answer(request, run),
        "noted": noted,
        **happenings_context(run),
        "causes": Run.Cause.choices,
        **_deeds(request, run),
        **curve,
        "notes": _beyond_the_sheet(curve["notes"], noted),
        **_balance(outputs.values),
    }


def _beyond_the_sheet(
    notes: list[dict[str, str]], noted: list[tuple[Run, list[ShownNote]]]
) -> list[dict[str, str]]:
    """What the reduction noticed, without what the sheet's own notes say already."""
    said = {note.problem.code for _, shown in noted for note in shown}
    return [note for note in notes if note["code"] not in said]


HEATS = (
    ("charge_j", "charge"),
    ("fuse_j", "fuse wire"),
    ("thread_j", "cotton thread"),
    ("acid_j", "nitric acid formed"),
    ("aids_j", "combustion aids"),
)
MK_PER_MIN = 60_000


def _balance(values: dict[str, Any]) -> dict[str, Any]:
    """The figures of the page in the units people compare: J, mK/min, the method in words."""
    if not values:
        return {}
    drifts = {
        f"{period}_drift": line["slope_k_per_s"] * MK_PER_MIN
        for period, line in values["drift"].items()
        if line and line["slope_k_per_s"] is not None
    }
    return {
        "used_words": METHODS.get(values["rise_used"]["method"], ""),
        "budgets": budgets_shown(values.get("budget") or {}),
        "sure": {
            name: budget.get("expanded_u") for name, budget in (values.get("budget") or {}).items()
        },
        "heat_rows": [(words, values["heat"].get(key)) for key, words in HEATS],
        "constants": [(row, float(f"{row['value']:.9g}")) for row in values["constants"]],
        "corrections": [(CORRECTIONS[row["name"]], row) for row in values["corrections"]],
        **drifts,
    }


def _withdrawn(run: Run) -> Standardization | None:
    """The standardization this run rests on, when its approval was withdrawn since."""
    source = run.rests_on
    if source is not None and source.state == Standardization.State.WITHDRAWN:
        return source
    return None


def _deeds(request: SignedIn, run: Run) -> dict[str, Any]:
    account = request.user
    in_approved = (
        run.standardization is not None
        and run.standardization.state == Standardization.State.APPROVED
    )
    may_set_aside = may(account, "set run aside", run) and not in_approved
    return {
        "may_sign": may(account, "sign run", run) and run.state == Run.State.COMPLETE,
        "may_set_aside": may_set_aside and run.state != Run.State.SET_ASIDE,
        "may_take_up": may_set_aside and run.state in (Run.State.SET_ASIDE, Run.State.SIGNED),
    }


@require_POST
def monte_carlo(request: SignedIn, pk: int) -> HttpResponse:
    """Check the budget by reducing the run some thousand times with varied inputs."""
    run, account = run_or_404(request, pk), request.user
    sampled, failure = sampled_of(run, Sheet(run), readings_of(run), account)
    if failure:
        raise refuse("no rise", f"Nothing to check: {failure}")
    budgets = kept_outputs(run, account).values.get("budget", {})
    checks = [_check(name, one, budgets[name]) for name, one in sampled.items() if name in budgets]
    context = _context(request, run) | {"checks": checks}
    return page(
        request,
        "runs/result.html" if not request.htmx else "runs/budget.html",
        context,
        part="check",
    )


AGREE_PERCENT = 5.0


def _check(name: str, sampled: Any, budget: dict[str, Any]) -> dict[str, Any]:
    return {
        "title": TITLES[name],
        "unit": budget["unit"],
        "trials": sampled.trials,
        "mean": rounded_by(sampled.mean, sampled.u),
        "u": rounded_by(sampled.u, sampled.u),
        "lower": rounded_by(sampled.lower, sampled.u),
        "upper": rounded_by(sampled.upper, sampled.u),
        "budget_u": rounded_by(budget["u"], budget["u"]),
        "differs_percent": (percent := 100 * (sampled.u / budget["u"] - 1)),
        "agrees": abs(percent) < AGREE_PERCENT,
    }
