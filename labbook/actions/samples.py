"""Revealing a sample: from then on its runs are reduced per mole too."""

from __future__ import annotations

from django.db import transaction

from .. import clock
from ..access import require
from ..lookups.readings import readings_of
from ..models import Account, Run, Sample
from ..problems import refuse
from .reductions import reduce_and_keep


@transaction.atomic
def reveal_sample(sample: Sample, *, by: Account) -> Sample:
    """Show a sample's identity to everyone, and reduce its completed runs with it."""
    require(by, "reveal sample", sample)
    sample = Sample.objects.select_for_update().get(pk=sample.pk)
    if not sample.is_hidden:
        raise refuse("revealed", f"Sample {sample} was revealed already.")
    sample.revealed_at = clock.now()
    sample.save(update_fields=["revealed_at"])
    for run in Run.objects.filter(sample=sample, completed_at__isnull=False):
        reduce_and_keep(run, readings_of(run), by=by, reason="sample revealed")
    return sample
