"""The ways to find the corrected rise, in words."""

METHODS = {
    "regnault_pfaundler": "Regnault–Pfaundler",
    "fraction": "fraction of the rise, 0.632",
    "fraction_060": "fraction of the rise, 0.60",
    "fraction_by_hand": "fraction of the rise, by hand",
    "equal_areas": "equal areas",
    "heat_balance": "heat-balance fit",
    "difference": "plain difference",
}
