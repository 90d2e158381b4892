"""How sure the typed-in figures are, where nothing better is known: one home for the defaults."""

from dataclasses import dataclass

from reduction.records import quantity


@dataclass(frozen=True)
class InputUncertainties:
    """Standard uncertainties of the figures on a run sheet; all optional.

    `weighing_g` and `fuse_length_cm` are those of one reading of the balance and the ruler: what is
    found by difference takes two of them. Percentages are of the value itself. A lot's, a
    certificate's or a heat capacity's own uncertainty, where given, comes first. The defaults are
    those of ordinary teaching equipment (common practice, no source); a laboratory sets its own.
    """

    weighing_g: float = quantity("g", at_least=0, default=1e-4)
    bucket_water_g: float = quantity("g", at_least=0, default=0.2)
    fuse_length_cm: float = quantity("cm", at_least=0, default=0.05)
    fuse_percent: float = quantity("%", at_least=0, default=5.0)
    thread_percent: float = quantity("%", at_least=0, default=2.0)
    titre_ml: float = quantity("mL", at_least=0, default=0.05)
    titrant_percent: float = quantity("%", at_least=0, default=0.5)
    acid_percent: float = quantity("%", at_least=0, default=1.0)
    aid_percent: float = quantity("%", at_least=0, default=0.5)
    standard_percent: float = quantity("%", at_least=0, default=0.02)
    heat_capacity_percent: float = quantity("%", at_least=0, default=0.3)
