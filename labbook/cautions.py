"""Cautions shown where the work can hurt someone: published guidance in general words."""

CAUTIONS = (
    "Stand clear of the top of the vessel when firing and for at least 20\u00a0s after.",
    "Burn at most 1\u00a0g of charge, or 1.1\u00a0g and 33\u00a0kJ; "
    "less where the vessel’s own limit is lower.",
    "Fill with oxygen to at most 30\u00a0atm (3.0\u00a0MPa), or less where the course says so.",
    "Check for leaks before every firing. Do not fire a leaking vessel.",
    "Keep oil and grease away from every part that meets oxygen.",
    "Burn powders only when pressed into pellets. Tighten the vessel by hand only.",
    "Let the pressure out slowly. Then look for soot; repeat the run if burning was incomplete.",
)

FIRING_CHECKLIST = (
    "The fuse wire touches the pellet and not the crucible.",
    "The water for the bomb is in, and the vessel is closed by hand only.",
    "Oxygen was filled to this bench’s pressure and the valve is shut.",
    "No leak: no bubbles rise from the vessel under water.",
    "The bucket stands right, the stirrer turns freely, the leads are on.",
    "Everybody stands clear of the top of the vessel.",
)

PREPARATION = (
    "Water bath or bucket water filled and near room temperature.",
    "Oxygen supply checked: enough in the cylinder, regulator and hose without damage, no grease.",
    "Crucibles clean and dry; fuse wire and pellets at hand.",
    "Vessel clean and dry, its seals looked at.",
    "Thermometer and stirrer run.",
    "Firing unit and leads without damage.",
    "Clear space round the bench; eye protection at hand.",
)
"""What is looked at before a bench is released; common practice, no source. The laboratory’s
safety rules, local codes and the responsible person decide."""


def usual_checklist() -> str:
    """The checklist a new method starts with, one item a line; common practice, no source."""
    return "\n".join(FIRING_CHECKLIST)
