"""What a data set says about itself as a whole."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import UTC, datetime

from django.conf import settings

import reduction

from ... import clock
from ...lookups.open_data import Scope

SOFTWARE = "Combustion bench record"
NO_LICENCE = "No licence is stated: ask the laboratory before using these data."


@dataclass(frozen=True)
class About:
    """``licence`` is an SPDX identifier or an address; empty when the laboratory states none."""

    title: str
    name: str
    left_out: int
    licence: str = field(default_factory=lambda: settings.LABBOOK_OPEN_LICENCE)
    laboratory: str = field(default_factory=lambda: settings.LABBOOK_LABORATORY)
    at: datetime = field(default_factory=lambda: clock.now().astimezone(UTC))

    @property
    def version(self) -> str:
        """Of the program that reduced the runs and wrote this."""
        return reduction.__version__

    @property
    def description(self) -> str:
        words = (
            "Runs of bomb calorimeters in a teaching laboratory: what they were fired for, "
            "corrected rises, heat capacities and heats of combustion with their uncertainties, "
            "and each bench’s heat capacity against its own past. People are not named; groups "
            "are numbers. Units are UCUM codes; moments are in UTC."
        )
        return f"{words} {self.hidden_words}".strip()

    @property
    def hidden_words(self) -> str:
        if not self.left_out:
            return ""
        runs = "1 run" if self.left_out == 1 else f"{self.left_out} runs"
        return f"{runs} of samples that are not revealed yet left out."


def about(scope: Scope) -> About:
    plain = re.sub(r"[^a-z0-9]+", "-", scope.title.lower()).strip("-") or "unnamed"
    title = scope.title[:1].upper() + scope.title[1:]
    return About(f"Combustion runs, {title}", f"combustion-runs-{plain}", scope.left_out())
