"""A working as plain data: formulas a script can evaluate, the numbers as shown, and in full."""

from __future__ import annotations

from typing import Any

from reduction.working import Source, Step

from ..lookups.practice import is_of_practice
from ..lookups.workings import Working
from ..models import Run
from ..typesetting.formulas import plain
from ..typesetting.numbers import figures
from ..typesetting.working_symbols import working_symbol


def working_dict(run: Run, working: Working) -> dict[str, Any]:
    """Everything the page of the working shows, with all digits kept beside those shown."""
    return {
        "run": run.pk,
        "kind": run.kind,
        "is_practice_term": is_of_practice(run),
        "reduction_version": working.outputs.get("version"),
        "is_kept": working.is_kept,
        "failure": working.failure,
        "withheld": working.withheld,
        "parts": [
            {"title": title, "steps": [_step(step) for step in steps]}
            for title, steps in working.parts.items()
        ],
        "left_out": working.left_out,
    }


def _step(step: Step) -> dict[str, Any]:
    expression = step.expression
    return {
        "key": step.key,
        "title": step.title,
        "formula": None if expression is None else plain(expression, numbers=False),
        "numbers": None if expression is None else plain(expression, numbers=True),
        "result": step.result,
        "shown": str(step.symbol.shown),
        "unit": step.unit,
        "closes": step.closes,
        "quoted": _quoted(step),
        "sources": [_source(source) for source in step.sources],
        "remark": step.remark,
    }


def _quoted(step: Step) -> dict[str, str | None] | None:
    """The result as people quote it, rounded by its uncertainty."""
    rounded = figures(step.result, step.u, step.stated_decimals)
    if step.stated_decimals is None or rounded is None:
        return None
    power = rounded.power
    return {
        "value": str(rounded.value.scaleb(power)),
        "u": None if rounded.u is None else str(rounded.u.scaleb(power)),
    }


def _source(source: Source) -> dict[str, Any]:
    key = source.symbol.key
    return {
        "key": key,
        "words": "" if key.startswith("sum_") else working_symbol(key).words,
        "value": source.symbol.value,
        "shown": str(source.symbol.shown),
        "unit": source.symbol.unit,
        "from": source.words,
    }
