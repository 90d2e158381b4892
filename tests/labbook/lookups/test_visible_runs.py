"""Runs and standardizations within reach: each once, whoever else looks after them."""

from __future__ import annotations

from labbook.lookups.runs import visible_runs
from labbook.lookups.standardizations import visible_standardizations

from ..conftest import Laboratory, colleague, standardized


def test_each_is_found_once_by_every_ta_of_its_section(laboratory: Laboratory) -> None:
    found, second = standardized(laboratory, (2.5, 2.505)), colleague(laboratory)
    laboratory.stranger.group.section.assistants.add(second)
    for account in (laboratory.assistant, second, laboratory.coordinator, laboratory.group):
        assert list(visible_runs(account).order_by("pk")) == list(found.runs.order_by("pk"))
        assert list(visible_standardizations(account)) == [found]
