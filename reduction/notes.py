"""What the readings and fields of a run give reason to say. A note never changes a number."""

from dataclasses import dataclass, field, fields
from typing import Any

from reduction.errors import InputError
from reduction.records import quantity, read_record

BLOCK, WARN, NOTE = "B", "W", "N"


@dataclass(frozen=True)
class Note:
    """What was seen (with its figures) and what to do; severity B block, W warn, N note."""

    code: str
    severity: str
    sentence: str
    advice: str


def threshold(unit: str, default: float, words: str, *, at_least: float = 0.0) -> Any:
    """A setting in `unit` with its default and the words that say what it decides."""
    declared = quantity("" if unit == "1" else unit, at_least=at_least)
    return field(default=default, metadata={**declared.metadata, "unit": unit, "words": words})


def enough(default: int, words: str) -> Any:
    """A setting that counts readings: a whole number of 2 or more."""
    declared = quantity("readings", at_least=2)

    def read(value: object, path: str) -> int:
        number: float = declared.metadata["read"](value, path)
        if number % 1:
            raise InputError(path, f"{number:g} is not a whole number of readings.")
        return int(number)

    return field(default=default, metadata={"read": read, "unit": "readings", "words": words})


@dataclass(frozen=True)
class Thresholds:
    """When something is worth saying: settings of the course, these are their defaults.

    `words` in a field's metadata says what it decides; `described` lists them for a page.
    """

    ignition_k: float = threshold("K", 0.05, "a smaller rise: the charge did not light")
    fuse_only_k: float = threshold("K", 0.005, "at least this: the wire burned, the charge did not")
    ignition_within_s: float = threshold("s", 180.0, "how long after firing the rise is awaited")
    firing_off_s: float = threshold("s", 30.0, "a firing mark farther than this from the kink")
    clock_off_s: float = threshold(
        "s", 10.0, "a firing mark by another clock farther than this from the kink"
    )
    firings_apart_s: float = threshold("s", 300.0, "two rises farther apart are two firings")
    second_rise_share: float = threshold("1", 0.2, "a second rise, as a share of the steepest")
    rating_readings: int = enough(4, "fewest readings of a rating period")
    fore_s: float = threshold("s", 180.0, "shortest fore period")
    after_s: float = threshold("s", 120.0, "shortest after period")
    curvature_sigmas: float = threshold(
        "1", 3.0, "a bend, in its uncertainties, that puts the after period off"
    )
    curvature_share: float = threshold(
        "1", 5e-5, "a bend, as a share of the rise, that puts the after period off"
    )
    bend_sigmas: float = threshold(
        "1", 4.5, "a bend of a rating period, in its uncertainties, to warn of"
    )
    fore_bend_share: float = threshold(
        "1", 5e-4, "a bend of the fore period, as a share of the rise, to warn of"
    )
    after_bend_share: float = threshold(
        "1", 2e-4, "a bend of the after period, as a share of the rise, to warn of"
    )
    settled_share: float = threshold("1", 1e-4, "share of the rise that may still be missing")
    missing_share: float = threshold("1", 1e-3, "share still missing that leaves no after period")
    slow_approach_s: float = threshold("s", 360.0, "95 % of the rise later than this")
    stirrer_steps: int = enough(4, "so many steps with rests between: the stirrer is off")
    noise_ratio: float = threshold("1", 5.0, "scatter of one rating period over that of the other")
    slip_sigmas: float = threshold(
        "1", 7.0, "a reading off its neighbours by so many scatters is a slip"
    )
    slip_k: float = threshold("K", 0.02, "and no reading nearer to its neighbours than this is one")
    gap_intervals: float = threshold("1", 3.0, "a gap longer than so many neighbouring intervals")
    clock_back_readings: int = enough(3, "so many readings before the last moment are a clock jump")
    stuck_readings: int = enough(5, "so many equal readings in a row while warming")
    line_bias_share: float = threshold("1", 1e-3, "a method off by this share of the rise is told")
    coarse_k: float = threshold("K", 0.05, "readings in such steps are coarse")
    warmest_c: float = threshold("°C", 60.0, "above this a bucket's reading has another unit")
    coldest_c: float = threshold(
        "°C", 5.0, "below this a bucket's reading has another unit", at_least=-273.15
    )
    residue_mg: float = threshold("mg", 1.0, "more residue than this is worth a warning")
    water_g: float = threshold("g", 5.0, "bucket water farther than this from nominal")
    light_charge_g: float = threshold("g", 0.3, "a lighter charge is asked about")
    net_mass_g: float = threshold("g", 0.0002, "a noted net mass farther than this from its two")
    same_mass_g: float = threshold("g", 5e-5, "charges closer than this: one copied by mistake")
    late_s: float = threshold("s", 7200.0, "a figure entered longer than this after the firing")
    repeatability_percent: float = threshold("%", 0.25, "standard deviation of good replicates")

    @classmethod
    def from_dict(cls, data: object) -> "Thresholds":
        """The defaults with some of them replaced.

        Raises InputError naming the setting that is unknown, not a number or out of its range.
        """
        read = read_record(cls, data, "thresholds")
        if read.coldest_c >= read.warmest_c:
            raise InputError(
                "thresholds.coldest_c",
                f"{read.coldest_c:g} °C is not below warmest_c, {read.warmest_c:g} °C.",
            )
        return read

    @classmethod
    def described(cls) -> list[dict[str, object]]:
        """Every setting: name, default, unit and the words that say what it decides."""
        return [
            {
                "name": setting.name,
                "default": setting.default,
                "unit": setting.metadata["unit"],
                "words": setting.metadata["words"],
            }
            for setting in fields(cls)
        ]
