"""Reduce finished runs again from the command line, in several processes, resumable."""

from __future__ import annotations

import itertools
from argparse import ArgumentParser
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from tqdm import tqdm

from labbook.actions.rereductions import (
    Outcome,
    apply_rereduction,
    inputs_for,
    plan_rereduction,
    settle,
)
from labbook.lookups.outputs import compute
from labbook.lookups.rereductions import SELECT_BY, moves_of, pending, progress_of
from labbook.models import Account, Method, Rereduction, RereductionItem
from labbook.problems import Refused

AT_A_TIME = 64
MOST_SHOWN = 20


class Command(BaseCommand):
    help = "Reduces completed runs again: shows what moves, then keeps it as new results."

    def add_arguments(self, parser: ArgumentParser) -> None:
        for name in SELECT_BY:
            parser.add_argument(f"--{name.replace('_', '-')}", default="")
        parser.add_argument("--by", help="sign-in name of the coordinator who decides this")
        parser.add_argument("--reason", default="", help="why these runs are reduced again")
        parser.add_argument("--method", help="reduce by this method, as NAME or NAME:VERSION")
        parser.add_argument("--dry-run", action="store_true", help="show what moves, keep nothing")
        parser.add_argument("--resume", type=int, metavar="N", help="go on with re-reduction N")
        parser.add_argument("--jobs", type=int, default=1, help="processes that compute")

    def handle(self, *, dry_run: bool, jobs: int, **options: Any) -> None:
        try:
            plan = self._plan(options)
            self._work(plan, jobs)
            self._show(plan)
            if not dry_run:
                if plan.applied_at is None:
                    plan = apply_rereduction(plan, by=plan.made_by)
                self._work(plan, jobs)
                self.stdout.write(f"{progress_of(plan).kept} runs are up to date with {plan}.")
        except Refused as refused:
            raise CommandError(str(refused)) from refused

    def _plan(self, options: dict[str, Any]) -> Rereduction:
        if options["resume"] is not None:
            found = Rereduction.objects.filter(pk=options["resume"]).first()
            if found is None:
                raise CommandError(f"There is no re-reduction {options['resume']}.")
            return found
        account = Account.objects.filter(username=options["by"] or "").first()
        if account is None:
            raise CommandError("--by must name a coordinator's sign-in, who stands for this.")
        selection = {name: options[name] for name in SELECT_BY if options[name]}
        method = _method(options["method"]) if options["method"] else None
        return plan_rereduction(selection, options["reason"], by=account, method=method)

    def _work(self, plan: Rereduction, jobs: int) -> None:
        """Compute in worker processes, keep in this one, run by run."""
        words = "Working out" if plan.applied_at is None else "Keeping"
        todo = list(pending(plan).values_list("pk", flat=True))
        with tqdm(total=len(todo), desc=words, unit=" runs") as bar:
            for item, inputs, outcome in _computed(_fetched(plan, todo), plan, jobs):
                settle(item, plan, inputs, outcome)
                bar.update()

    def _show(self, plan: Rereduction) -> None:
        moves, progress = moves_of(plan), progress_of(plan)
        self.stdout.write(f"{plan}: {progress.total} runs, {len(moves)} figures move.")
        for move in moves[:MOST_SHOWN]:
            change = "" if move.percent is None else f"  {move.percent:+.4f} %"
            self.stdout.write(
                f"  run {move.run.pk}  {move.words}  {_shown(move.before)} → "
                f"{_shown(move.after)} {move.unit}{change}"
            )
        if len(moves) > MOST_SHOWN:
            self.stdout.write(f"  and {len(moves) - MOST_SHOWN} more")


def _method(text: str) -> Method:
    name, _, version = text.partition(":")
    found = Method.objects.filter(name=name, **({"version": version} if version else {})).first()
    if found is None:
        raise CommandError(f"There is no method “{text}”. Give NAME or NAME:VERSION.")
    return found


def _shown(value: float | None) -> str:
    return "none" if value is None else f"{value:.7g}"


def _fetched(plan: Rereduction, todo: list[int]) -> Iterator[RereductionItem]:
    """The items a few at a time, each few read whole before anything is written."""
    for start in range(0, len(todo), AT_A_TIME):
        yield from list(pending(plan).filter(pk__in=todo[start : start + AT_A_TIME]))


def _computed(
    items: Iterator[RereductionItem], plan: Rereduction, jobs: int
) -> Iterator[tuple[RereductionItem, dict[str, Any], Outcome]]:
    if jobs == 1:
        for item in items:
            inputs = inputs_for(item, plan)
            yield item, inputs, compute(inputs)
        return
    with ProcessPoolExecutor(jobs) as workers:
        while chunk := list(itertools.islice(items, AT_A_TIME)):
            given = [inputs_for(item, plan) for item in chunk]
            yield from zip(chunk, given, workers.map(compute, given, chunksize=8), strict=True)
