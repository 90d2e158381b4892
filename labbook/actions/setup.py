"""Set-up by the coordinator: benches, materials, terms, sign-ins."""

from __future__ import annotations

from django.db import transaction
from django.db.models import Model
from django.utils import timezone

from .. import clock
from ..access import require
from ..models import Account, BenchConfiguration, Method, PhaseBreak
from ..problems import refuse
from .benches import hold_bench
from .history import lapse_approvals, propose_break
from .telling import telling_of_change


@transaction.atomic
def save_setup(record: Model, *, by: Account) -> Model:
    """Keep a set-up record, with who changed it in its history."""
    require(by, "set up")
    return keep(record, by=by)


def keep(record: Model, *, by: Account) -> Model:
    """Save a record with who changed it and when, for the history of its table."""
    record._history_user = by  # type: ignore[attr-defined]  # read by django-simple-history
    record._history_date = clock.now()  # type: ignore[attr-defined]  # likewise
    record.save()
    return record


@transaction.atomic
def keep_method(method: Method, *, by: Account) -> Method:
    """Keep a method as its next version. Earlier versions stay as their runs used them."""
    require(by, "set up")
    newest = Method.objects.filter(name=method.name).order_by("-version").first()
    method.pk = None
    method._state.adding = True
    method.version = newest.version + 1 if newest else 1
    method.made_by, method.made_at = by, clock.now()
    method.save()
    return method


@transaction.atomic
def change_configuration(configuration: BenchConfiguration, *, by: Account) -> BenchConfiguration:
    """Record what a bench consists of from now on. The approval in force lapses with it."""
    require(by, "change bench", configuration.bench)
    bench = hold_bench(configuration.bench)
    if configuration.since > clock.now():
        raise refuse("date", "A change is recorded once it has happened.", "since")
    newest = bench.configuration
    if newest is not None and configuration.since <= newest.since:
        since = timezone.localtime(newest.since)
        sentence = (
            f"The newest configuration of {bench} is from {since:%Y-%m-%d %H:%M}; "
            "a change must be dated after it."
        )
        raise refuse("date", sentence, "since")
    configuration.made_by = by
    configuration.save()
    if newest is not None:
        lapse_approvals(bench, configuration.reason, by=by)
        with telling_of_change():
            _propose_break(newest, configuration, by)
    return configuration


def _propose_break(old: BenchConfiguration, new: BenchConfiguration, by: Account) -> None:
    """A change of parts or of the nominal water cuts the history; a change of limits does not."""
    parts = [name for name in BenchConfiguration.PARTS if getattr(old, name) != getattr(new, name)]
    if not parts and old.nominal_water_g == new.nominal_water_g:
        return
    cause = PhaseBreak.Cause.PARTS if parts else PhaseBreak.Cause.WATER
    propose_break(new.bench, new.since, cause, new.reason, by=by, configuration=new)
