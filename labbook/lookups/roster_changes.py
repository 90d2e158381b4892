"""What a roster would change, as data: the preview shows it, the action applies it."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, field
from typing import Literal

from ..intake.rosters import BadRow
from ..models import Term

USUAL_PLACES = 4
Kind = Literal["add", "move", "rename", "drop"]
KINDS: tuple[Kind, ...] = ("add", "move", "rename", "drop")


@dataclass(frozen=True)
class Change:
    """One student's change. ``was`` is the place before it, or the name before a new one."""

    kind: Kind
    where: str
    name: str
    section: str
    group: str
    number: str = ""
    roster_id: str = ""
    person: int | None = None
    was: str = ""


@dataclass(frozen=True)
class Options:
    """``makes`` sections and groups that are missing; ``places`` are the most in a group."""

    makes: bool = False
    drops: bool = True
    places: int = USUAL_PLACES


@dataclass
class RosterPlan:
    """The preview, and what is applied: ``lookups.rosters`` makes both."""

    term: Term
    options: Options
    changes: list[Change] = field(default_factory=list)
    bad: list[BadRow] = field(default_factory=list)
    new_sections: list[str] = field(default_factory=list)
    new_groups: list[tuple[str, str]] = field(default_factory=list)
    unchanged: int = 0
    held_back: list[Change] = field(default_factory=list)
    remarks: tuple[str, ...] = ()

    def of_kind(self, kind: Kind) -> list[Change]:
        found = [change for change in self.changes if change.kind == kind]
        return sorted(found, key=lambda one: (one.section, one.group, one.name))

    @property
    def counts(self) -> dict[str, int]:
        counts = {kind: len(self.of_kind(kind)) for kind in KINDS}
        made = {"sections made": len(self.new_sections), "groups made": len(self.new_groups)}
        return counts | made | {"unchanged": self.unchanged, "bad rows": len(self.bad)}

    @property
    def is_empty(self) -> bool:
        return not (self.changes or self.new_sections or self.new_groups)

    @property
    def seen(self) -> str:
        """The fingerprint of everything shown: what is applied is what was seen."""
        shown = [
            self.term.pk,
            asdict(self.options),
            [asdict(change) for change in self.changes],
            [asdict(row) for row in self.bad],
            self.new_sections,
            self.new_groups,
        ]
        return hashlib.sha256(json.dumps(shown, sort_keys=True).encode()).hexdigest()
