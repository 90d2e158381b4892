"""The run sheet: its fields in bench order. Forms, checks and exports all read this list."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Reader = Literal["figure", "moment", "choice", "words", "lot"]


@dataclass(frozen=True)
class Field:
    key: str
    words: str
    unit: str = ""
    reader: Reader = "figure"
    hint: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    kinds: frozenset[str] = frozenset({"standardization", "unknown", "practice", "blank"})
    required: bool = False
    # A required field may stay blank when all of these are filled in instead.
    unless: tuple[str, ...] = ()
    # Whether a new value can change the computed result.
    reduces: bool = True
    may_be_negative: bool = False


@dataclass(frozen=True)
class Part:
    key: str
    title: str
    fields: tuple[Field, ...]


BURNS_STANDARD = frozenset({"standardization", "practice"})
BURNS_CHARGE = frozenset({"standardization", "unknown", "practice"})

PARTS = (
    Part(
        "materials",
        "Materials",
        (
            Field(
                "standard_lot", "Standard, lot", reader="lot", kinds=BURNS_STANDARD, required=True
            ),
            Field("fuse_lot", "Fuse wire, lot", reader="lot", required=True),
            Field("titrant_lot", "Titrant, lot", reader="lot"),
            Field("aid_lot", "Combustion aid, lot", reader="lot", hint="Capsule, oil, …"),
            Field("second_aid_lot", "Second aid, lot", reader="lot"),
        ),
    ),
    Part(
        "charge",
        "Charge and fuse",
        (
            Field("charge_gross_g", "Crucible with pellet", "g", kinds=BURNS_CHARGE, required=True),
            Field("charge_tare_g", "Crucible alone", "g", kinds=BURNS_CHARGE, required=True),
            Field(
                "charge_net_g",
                "Pellet, if you noted it",
                "g",
                kinds=BURNS_CHARGE,
                hint="Compared with crucible with pellet minus crucible alone.",
            ),
            Field(
                "fuse_before", "Fuse wire before", "", required=True, hint="In the unit of its lot."
            ),
            Field("thread_mass_g", "Cotton thread, if used", "g"),
            Field("aid_mass_g", "Combustion aid, if used", "g"),
            Field("second_aid_mass_g", "Second aid, if used", "g"),
        ),
    ),
    Part(
        "vessel",
        "Vessel",
        (
            Field("water_ml", "Water in the bomb", "mL", required=True),
            Field("flushes", "Flushes with oxygen", "", reduces=False),
            Field("oxygen_atm", "Oxygen pressure", "atm", required=True),
            Field(
                "leak_check",
                "Leak check",
                reader="choice",
                choices=(("tight", "tight"), ("leak", "leak seen")),
                required=True,
                reduces=False,
            ),
        ),
    ),
    Part(
        "bucket",
        "Bucket and room",
        (
            Field(
                "bucket_gross_g",
                "Bucket with water",
                "g",
                required=True,
                unless=("bucket_volume_ml", "bucket_temperature_c"),
            ),
            Field(
                "bucket_tare_g",
                "Bucket alone",
                "g",
                required=True,
                unless=("bucket_volume_ml", "bucket_temperature_c"),
            ),
            Field(
                "bucket_volume_ml",
                "Or water by volume",
                "mL",
                hint="From a volumetric flask, with its temperature below.",
            ),
            Field("bucket_temperature_c", "Its temperature", "°C"),
            Field("room_c", "Room", "°C", reduces=False, may_be_negative=True),
            Field("jacket_c", "Jacket", "°C", reduces=False, may_be_negative=True),
        ),
    ),
    Part(
        "firing",
        "Firing and periods",
        (
            Field(
                "fired_at_s",
                "Fired at",
                "s",
                reader="moment",
                may_be_negative=True,
                hint="On the clock of the readings: seconds, or minutes:seconds.",
            ),
            Field(
                "fired_by_clock",
                "By which clock",
                reader="choice",
                choices=(("logger", "the logger’s"), ("watch", "stop-watch"), ("pc", "this PC’s")),
            ),
            Field("fore_from_s", "Fore period from", "s", reader="moment", may_be_negative=True),
            Field("settled_at_s", "After period from", "s", reader="moment", may_be_negative=True),
            Field("after_until_s", "After period to", "s", reader="moment", may_be_negative=True),
        ),
    ),
    Part(
        "after",
        "After the run",
        (
            Field(
                "soot",
                "Soot",
                reader="choice",
                choices=(("none", "none"), ("trace", "a trace"), ("much", "much")),
                required=True,
            ),
            Field("residue_mg", "Residue in the crucible", "mg"),
            Field(
                "fuse_left",
                "Fuse wire left, all pieces",
                "",
                required=True,
                hint="In the unit of its lot.",
            ),
            Field("titre_ml", "Titre of the washings", "mL"),
            Field("remarks", "Remarks", reader="words", reduces=False),
        ),
    ),
)

FIELDS = {field.key: field for part in PARTS for field in part.fields}
LOT_FIELDS = tuple(key for key, field in FIELDS.items() if field.reader == "lot")
BOUNDS = ("fore_from_s", "fired_at_s", "settled_at_s", "after_until_s")
# The figures that must stand on the sheet before the bomb is fired.
BEFORE_FIRING = ("materials", "charge", "vessel")


def parts_for(kind: str) -> list[Part]:
    """The sheet's parts for a kind of run, each with the fields that apply to it."""
    kept = (
        Part(part.key, part.title, tuple(f for f in part.fields if kind in f.kinds))
        for part in PARTS
    )
    return [part for part in kept if part.fields]
