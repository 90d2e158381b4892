"""Bias of every method and coverage of its 95 % interval, on simulated firings of known rise.

Prints the tables of the contributors' guide: `python tests/speed/coverage_table.py --runs 2000`.
Bias is that of the same firings without noise and rounding; coverage is with both. A method's
assumptions count as met where the tool's own estimate of its line bias is below a third of its
standard uncertainty. A coverage from n runs is sure to about ±1.96·√(0.95·0.05/n).
"""

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reduction import simulate
from reduction.curve import CurveResult, reduce_curve
from reduction.periods import find_periods
from reduction.remarks.certainty import SAME_LINES, line_biases
from reduction.replicates import student_t
from reduction.thermogram import Thermogram

Array = NDArray[np.float64]

METHODS = (
    "fraction",
    "fraction_060",
    "fraction_by_hand",
    "equal_areas",
    "regnault_pfaundler",
    "heat_balance",
)
CADENCES: tuple[Any, ...] = (
    1.0,
    2.0,
    5.0,
    10.0,
    15.0,
    30.0,
    60.0,
    ((60.0, 300.0), (15.0, 600.0), (30.0, 1e9)),
    ((30.0, 300.0), (5.0, 480.0), (20.0, 1e9)),
)
RESOLUTIONS_K = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1)
OTHER_SHAPES = ("even", "bell", "three in a row")
WEAK_LEAK_PER_S, STRONG_LEAK_PER_S = 5e-5, 2e-4


@dataclass(frozen=True)
class Case:
    """A firing, and the shape of its release where it is no sum of two exponentials."""

    firing: simulate.Firing
    shape: str | None = None

    @property
    def clean(self) -> "Case":
        """The same without noise and rounding."""
        return replace(self, firing=replace(self.firing, noise_k=0.0, resolution_k=0.0))


def draw_cases(count: int, seed: int, other_shapes: bool = False) -> Iterator[Case]:
    """Firings as benches differ: jacket within 3 K, both signs of the leak, stirring heat."""
    random = np.random.default_rng(seed)
    for number in range(count):
        rise, start = float(random.uniform(1.5, 2.9)), float(random.uniform(21.0, 25.0))
        resolution, slow = float(random.choice(RESOLUTIONS_K)), float(random.uniform(25.0, 60.0))
        sign, size = random.choice([-1.0, 1.0]), random.uniform(-5.5, np.log10(STRONG_LEAK_PER_S))
        releases = ((slow,), (slow, float(random.uniform(6.0, 20.0))))
        firing = simulate.Firing(
            rise_k=rise,
            start_c=start,
            convergence_c=float(random.uniform(start + rise - 3.0, start + 3.0)),
            leak_per_s=float(sign * 10.0**size),
            stirring_k_per_s=float(random.uniform(0.0, 5e-6)),
            release_s=releases[int(random.integers(2))],
            end_s=float(random.choice([1200.0, 1500.0])),
            cadence_s=CADENCES[int(random.integers(len(CADENCES)))],
            noise_k=max(4e-4, resolution * float(random.uniform(0.1, 1.0))),
            resolution_k=resolution,
            seed=seed + number,
        )
        yield Case(firing, str(random.choice(OTHER_SHAPES)) if other_shapes else None)


def readings(case: Case) -> tuple[Array, Array]:
    """Times [s] and temperatures [°C] of a case."""
    firing = case.firing
    if case.shape is None:
        return simulate.thermogram(firing)
    time_s = simulate.reading_times(firing)
    noise = np.random.default_rng(firing.seed).normal(0.0, 1.0, time_s.size)
    temperature_c = simulate.true_temperature(replace(firing, rise_k=0.0), time_s)
    temperature_c = temperature_c + firing.rise_k * _response(case, time_s - firing.fired_at_s)
    temperature_c = temperature_c + firing.noise_k * noise
    if step := firing.resolution_k:
        temperature_c = np.round(np.round(temperature_c / step) * step, 9)
    return time_s, temperature_c


def _response(case: Case, since_s: Array) -> Array:
    """`∫ e^(−k(s − u)) dF(u)` of a release F of unit area, summed on a fine grid."""
    fine = np.arange(0.0, float(since_s.max()) + 0.1, 0.05)
    leak, middle = case.firing.leak_per_s, (fine[1:] + fine[:-1]) / 2.0
    share = np.diff(_released(case.shape, fine))
    kept = np.concatenate([[0.0], np.cumsum(np.exp(leak * middle) * share)])
    return np.asarray(np.interp(since_s, fine, kept * np.exp(-leak * fine), left=0.0))


def _released(shape: str | None, since_s: Array) -> Array:
    """Share released by a time after firing, of shapes that are no sum of two exponentials."""
    if shape == "even":
        return np.minimum(since_s / 90.0, 1.0)
    if shape == "bell":
        return np.asarray(1.0 - np.exp(-((since_s / 60.0) ** 2)))
    s = since_s / 18.0
    return np.asarray(1.0 - (1.0 + s + s**2 / 2.0) * np.exp(-s))


def reduced(case: Case) -> CurveResult:
    """The curve of a case, its periods found but for the firing."""
    curve = Thermogram.of(*readings(case))
    return reduce_curve(curve, find_periods(curve, case.firing.fired_at_s))


@dataclass(frozen=True)
class Outcome:
    """One method on one case: bias without noise [%], error over the half-width of its interval,
    and whether its assumptions count as met; NaN where it gave no rise."""

    bias_percent: float
    error: float
    met: bool


def outcomes(case: Case) -> dict[str, Outcome]:
    """Every method on one case."""
    noisy, clean = reduced(case), reduced(case.clean)
    biases, truth = line_biases(noisy), case.firing.rise_k
    found = {}
    for method in METHODS:
        value, ideal = noisy.rise[method], clean.rise[method]["rise_k"]
        bias = 100.0 * (float(ideal) / truth - 1.0) if isinstance(ideal, float) else np.nan
        rise_k, u_k, dof = (value[key] for key in ("rise_k", "u_k", "dof"))
        if isinstance(rise_k, float) and isinstance(u_k, float):
            k = student_t(np.inf if dof is None else float(dof))
            met = abs(biases.get(str(SAME_LINES.get(method, method)), 0.0)) < u_k / 3.0
            found[method] = Outcome(bias, (rise_k - truth) / (k * u_k), met)
        else:
            found[method] = Outcome(bias, np.nan, False)
    return found


@dataclass(frozen=True)
class Summary:
    """One method over many cases."""

    runs: int
    mean_bias_percent: float
    bias_95_percent: float
    worst_bias_percent: float
    within_002_percent: float
    coverage_percent: float
    met_runs: int
    met_coverage_percent: float


def summarize(many: Sequence[Outcome]) -> Summary:
    """Bias and coverage of one method; cases without a rise count in neither."""
    bias = np.array([outcome.bias_percent for outcome in many])
    bias = bias[np.isfinite(bias)]
    known = [outcome for outcome in many if np.isfinite(outcome.error)]
    met = [outcome for outcome in known if outcome.met]
    size = np.abs(bias)
    return Summary(
        len(many),
        float(bias.mean()),
        float(np.percentile(size, 95.0)),
        float(size.max()),
        100.0 * float(np.mean(size <= 0.02)),
        covered(known),
        len(met),
        covered(met),
    )


def covered(many: Sequence[Outcome]) -> float:
    """How many of a hundred intervals hold the truth."""
    return 100.0 * float(np.mean([abs(outcome.error) <= 1.0 for outcome in many] or [np.nan]))


def study(runs: int, seed: int) -> dict[str, dict[str, Summary]]:
    """The whole study: by kind of firing, then by method."""
    groups: dict[str, list[dict[str, Outcome]]] = {}
    for other in (False, True):
        for case in draw_cases(runs // 2 if other else runs - runs // 2, seed + other, other):
            weak = abs(case.firing.leak_per_s) <= WEAK_LEAK_PER_S
            shape = "other shapes of release" if other else "release of one or two exponentials"
            leak = "leak up to 5·10⁻⁵ s⁻¹" if weak else "leak 5·10⁻⁵ to 2·10⁻⁴ s⁻¹"
            groups.setdefault(f"{shape}, {leak}", []).append(outcomes(case))
    return {
        group: {method: summarize([one[method] for one in many]) for method in METHODS}
        for group, many in groups.items()
    }


def main() -> None:
    """Print a table a group."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    for group, methods in study(options.runs, options.seed).items():
        runs = methods[METHODS[0]].runs
        print(f"\n{group[0].upper()}{group[1:]}: {runs} runs\n")
        print(
            "| method | mean bias % | 95 % below % | worst % | within 0.02 % | coverage % |", end=""
        )
        print(" assumptions met: runs | coverage % |")
        print("|---|---|---|---|---|---|---|---|")
        for method, s in methods.items():
            print(
                f"| {method} | {s.mean_bias_percent:+.4f} | {s.bias_95_percent:.4f} | "
                f"{s.worst_bias_percent:.3f} | {s.within_002_percent:.1f} | "
                f"{s.coverage_percent:.1f} | {s.met_runs} | {s.met_coverage_percent:.1f} |"
            )


if __name__ == "__main__":
    main()
