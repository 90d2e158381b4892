"""What the readings and fields of a run give reason to say. A note never changes a number."""

from dataclasses import dataclass

BLOCK, WARN, NOTE = "B", "W", "N"


@dataclass(frozen=True)
class Note:
    """What was seen (with its figures) and what to do; severity B block, W warn, N note."""

    code: str
    severity: str
    sentence: str
    advice: str


@dataclass(frozen=True)
class Thresholds:
    """When something is worth saying: settings of the course, these are their defaults."""

    ignition_k: float = 0.05
    fuse_only_k: float = 0.005
    ignition_within_s: float = 180.0
    firing_off_s: float = 30.0
    rating_readings: int = 4
    fore_s: float = 180.0
    after_s: float = 120.0
    curvature_sigmas: float = 3.0
    curvature_share: float = 5e-5
    settled_share: float = 1e-4
    missing_share: float = 1e-3
    slow_approach_s: float = 360.0
    gap_intervals: float = 3.0
    coarse_k: float = 0.05
    water_g: float = 5.0
