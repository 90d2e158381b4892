"""How often chance alone makes things agree."""

from math import exp, inf, log, log1p

from scipy.special import pdtrc


def chance_of_any(count: int, places: float) -> float:
    """The chance that some two of `count` things agree, each in one of `places` equally likely.

    `1 − Π(1 − i/places)`, i from 1 to count − 1: the birthday count; 1 for more things than places.

    >>> round(chance_of_any(23, 365), 3)
    0.507
    """
    if count > places:
        return 1.0
    return 1.0 - exp(sum(log1p(-i / places) for i in range(1, count)))


def at_least(found: int, expected: float) -> float:
    """The chance of `found` coincidences or more where `expected` are expected: Poisson's tail."""
    return float(pdtrc(found - 1, expected)) if found > 0 else 1.0


def agreeing_bound(share: float, chance: float, trials: float) -> float:
    """An upper bound on the chance that at least `share` of so many independent trials succeed.

    `exp(−n·[a·ln(a/c) + (1 − a)·ln((1 − a)/(1 − c))])` for a share a above the chance c of each:
    W. Hoeffding, J. Am. Stat. Assoc. 58 (1963) 13, theorem 1. 1 where a does not exceed c.
    """
    if share <= chance:
        return 1.0
    missed = 0.0 if share >= 1.0 else (1.0 - share) * log((1.0 - share) / (1.0 - chance))
    exponent = trials * (share * log(share / chance) + missed) if chance > 0 else inf
    return exp(-exponent)
